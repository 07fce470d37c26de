//! Files that are whole or not there: written under a temporary name, then renamed.

use std::fs::File;
use std::io::{self, Write};
use std::path::Path;

/// Writes a file so that a reader, a crash or a full disk never meets half of it.
///
/// The bytes go to a temporary name in the same folder, onto the disk, and
/// only then take the file's name. A symbolic link stays one, and what may be
/// done with an existing file stays as it was. On an error the old file is untouched.
pub fn write_atomically(path: &Path, bytes: &[u8]) -> io::Result<()> {
    write_atomically_with(path, |file| file.write_all(bytes))
}

/// [`write_atomically`] for what is not in memory as a whole: `write` puts
/// the bytes into the temporary file; where it fails the old file is untouched.
pub(crate) fn write_atomically_with(
    path: &Path,
    write: impl FnOnce(&mut File) -> io::Result<()>,
) -> io::Result<()> {
    persist(path, write, || Ok(true))
}

/// [`write_atomically`] where `may` says so at the last moment; otherwise the
/// file stays as it is.
pub(crate) fn write_atomically_when(
    path: &Path,
    bytes: &[u8],
    may: impl FnOnce() -> io::Result<bool>,
) -> io::Result<()> {
    persist(path, |file| file.write_all(bytes), may)
}

fn persist(
    path: &Path,
    write: impl FnOnce(&mut File) -> io::Result<()>,
    may: impl FnOnce() -> io::Result<bool>,
) -> io::Result<()> {
    // Renaming onto a link would replace the link instead of what it names.
    let target = match path.canonicalize() {
        Ok(target) => target,
        Err(error) if error.kind() == io::ErrorKind::NotFound => path.to_owned(),
        Err(error) => return Err(error),
    };
    let folder = match target.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut builder = tempfile::Builder::new();
    builder.prefix(".mastwright-").suffix(".tmp");
    let permissions = target.metadata().map(|data| data.permissions()).ok();
    #[cfg(unix)]
    if permissions.is_none() {
        use std::os::unix::fs::PermissionsExt;
        // As for any new file, the user's mask takes its share.
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    let mut file = builder.tempfile_in(folder)?;
    write(file.as_file_mut())?;
    if let Some(permissions) = permissions {
        file.as_file().set_permissions(permissions)?;
    }
    file.as_file().sync_all()?;
    if !may()? {
        return Ok(());
    }
    file.persist(&target).map_err(|failed| failed.error)?;
    sync_folder(folder)
}

/// Puts the new name itself onto the disk, where the system can do that.
fn sync_folder(folder: &Path) -> io::Result<()> {
    #[cfg(unix)]
    {
        #[expect(
            clippy::disallowed_methods,
            reason = "`store` is where files are opened"
        )]
        let synced = std::fs::File::open(folder).and_then(|folder| folder.sync_all());
        match synced {
            // The file is in its place: a system that cannot do more has not failed.
            Err(error) if cannot_sync_folders(error.kind()) => {}
            other => other?,
        }
    }
    Ok(())
}

/// Whether an error says that folders cannot be synced here, rather than that
/// the disk failed: network and user-space file systems refuse it, and a folder
/// may be open to writing alone.
#[cfg(unix)]
fn cannot_sync_folders(kind: io::ErrorKind) -> bool {
    matches!(
        kind,
        io::ErrorKind::Unsupported | io::ErrorKind::InvalidInput | io::ErrorKind::PermissionDenied
    )
}

#[cfg(all(test, target_os = "linux"))]
mod tests {
    use super::*;

    /// fsync(2), Linux: EINVAL where the file does not support it, EIO where the disk fails.
    #[test]
    fn ref_only_a_failing_disk_fails_a_file_in_place() {
        let kind = |errno| io::Error::from_raw_os_error(errno).kind();
        let [eio, eacces, einval, enospc, eopnotsupp] = [5, 13, 22, 28, 95];
        for errno in [eacces, einval, eopnotsupp] {
            assert!(cannot_sync_folders(kind(errno)), "{errno}");
        }
        for errno in [eio, enospc] {
            assert!(!cannot_sync_folders(kind(errno)), "{errno}");
        }
    }
}
