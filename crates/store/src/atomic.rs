//! Files that are whole or not there: written under a temporary name, then renamed.

use std::ffi::OsStr;
use std::fs::File;
use std::io::{self, Write};
use std::path::Path;
use std::time::{Duration, SystemTime};

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

/// A file under a temporary name that nobody has written into for so long was
/// left by a program that was ended.
const LEFT_AFTER: Duration = Duration::from_secs(3600);
/// Folders within a folder that are looked into for such files.
const DEEPEST: usize = 6;

/// Removes the temporary files that a program has left in a folder and those
/// within it when it was ended in the middle of writing. What another program
/// may still be writing stays, and so does what cannot be removed.
pub fn remove_leftovers(folder: &Path) {
    remove_within(folder, DEEPEST);
}

fn remove_within(folder: &Path, deeper: usize) {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return;
    };
    for entry in entries.flatten() {
        let Ok(kind) = entry.file_type() else {
            continue;
        };
        if kind.is_dir() && deeper > 0 {
            remove_within(&entry.path(), deeper - 1);
        } else if kind.is_file() && is_temporary(&entry.file_name()) && is_old(&entry) {
            // It harms nobody where it cannot go.
            let _ = std::fs::remove_file(entry.path());
        }
    }
}

/// Whether a name is one that [`write_atomically`] gives: the letters that the
/// library chooses at random stand between its beginning and end.
fn is_temporary(name: &OsStr) -> bool {
    let chosen = name
        .to_str()
        .and_then(|name| name.strip_prefix(PREFIX)?.strip_suffix(SUFFIX));
    chosen.is_some_and(|c| !c.is_empty() && c.chars().all(|c| c.is_ascii_alphanumeric()))
}

#[expect(clippy::disallowed_methods, reason = "what is old depends on the time")]
fn is_old(entry: &std::fs::DirEntry) -> bool {
    let written = entry.metadata().and_then(|data| data.modified());
    // A time in the future is no age.
    let age = written
        .ok()
        .and_then(|at| SystemTime::now().duration_since(at).ok());
    age.is_some_and(|age| age >= LEFT_AFTER)
}

const PREFIX: &str = ".mastwright-";
const SUFFIX: &str = ".tmp";

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
    builder.prefix(PREFIX).suffix(SUFFIX);
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

#[cfg(test)]
#[expect(
    clippy::disallowed_methods,
    reason = "the test makes files of a certain age"
)]
mod leftovers {
    use super::*;

    #[test]
    fn exact_only_old_files_of_our_own_are_swept_away() {
        let folder = tempfile::tempdir().expect("a folder");
        let within = folder.path().join("results/coverage");
        std::fs::create_dir_all(&within).expect("it can be made");
        let long_ago = SystemTime::now() - LEFT_AFTER - Duration::from_secs(60);
        let put = |path: &Path, at: SystemTime| {
            let file = File::create(path).expect("it can be made");
            file.set_modified(at).expect("its time can be set");
        };
        let ours = [
            folder.path().join(".mastwright-aB3xY9.tmp"),
            within.join(".mastwright-q0.tmp"),
        ];
        let others = [
            ".mastwright-.tmp",
            ".mastwright-a.b.tmp",
            ".mastwright-aB3xY9.tmp.bak",
            "mastwright-aB3xY9.tmp",
            "mastwright.toml",
            ".unfinished-aB3xY9",
        ];
        ours.iter().for_each(|path| put(path, long_ago));
        for name in others {
            put(&folder.path().join(name), long_ago);
        }
        let in_use = folder.path().join(".mastwright-inUse1.tmp");
        put(&in_use, SystemTime::now());
        remove_leftovers(folder.path());
        assert!(ours.iter().all(|path| !path.exists()));
        assert!(in_use.exists(), "another program may be writing it");
        for name in others {
            assert!(folder.path().join(name).exists(), "{name}");
        }
    }
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
