//! Losses and tiles kept on disk from one run to the next.
//!
//! One file an entry, named after the digest of everything that the entry
//! follows from. A file is written under a temporary name and renamed, and
//! carries a digest of each of its blocks: whatever was cut short or damaged
//! is as if it had never been there. Several programs may use a folder at the
//! same time; it may be deleted at any time.
//!
//! While any program uses the folder nothing is thrown away. Whoever finds
//! itself alone, at its beginning or end, removes what others have left half
//! written, and what was not used for longest until the rest fits the limit.

mod entry;

use std::ffi::OsStr;
use std::fs::{self, File, OpenOptions};
use std::io::{self, BufReader, Read, Seek, SeekFrom, Write};
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use pipeline::engine::coverage::{CellWindow, NotKept, Shelf, ShelfLayers, ShelfName};
use rayon::prelude::*;
use tempfile::TempDir;

use entry::{Block, Header, assembled, blocks_of, packed, unpacked};

/// A folder of kept layers.
#[derive(Debug)]
pub struct DiskShelf {
    folder: PathBuf,
    limit_bytes: u64,
    /// Held shared as long as the folder is in use; `None` where the file
    /// system knows no locks.
    lock: Option<File>,
    /// Removes the folder in the end, where nothing is to stay.
    _temporary: Option<TempDir>,
}

const SUFFIX: &str = "layers";
const UNFINISHED: &str = ".unfinished-";
const LOCK: &str = "lock";

impl DiskShelf {
    /// Opens a folder, which is made where it does not exist, and makes room
    /// in it: at most `limit_bytes` stay when nobody uses it.
    ///
    /// # Errors
    /// The folder cannot be made, or not be written to.
    pub fn open(folder: &Path, limit_bytes: u64) -> io::Result<Self> {
        fs::create_dir_all(folder)?;
        let mut options = OpenOptions::new();
        let lock = options.create(true).write(true).truncate(false);
        let lock = lock.open(folder.join(LOCK))?;
        if lock.try_lock().is_ok() {
            tidy(folder, limit_bytes);
            lock.unlock()?;
        }
        // Waits for whoever tidies at this moment. A file system without
        // locks loses nothing but the certainty that others find theirs.
        let held = lock.lock_shared();
        Ok(Self {
            folder: folder.to_owned(),
            limit_bytes,
            lock: held.is_ok().then_some(lock),
            _temporary: None,
        })
    }

    /// A folder that is gone in the end, among the system's temporary files.
    ///
    /// # Errors
    /// There is no place for temporary files.
    pub fn temporary() -> io::Result<Self> {
        let folder = tempfile::Builder::new().prefix("mastwright-").tempdir()?;
        Ok(Self {
            folder: folder.path().to_owned(),
            limit_bytes: u64::MAX,
            lock: None,
            _temporary: Some(folder),
        })
    }

    /// The folder.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    fn path(&self, name: &ShelfName) -> PathBuf {
        self.folder.join(format!("{name}.{SUFFIX}"))
    }
}

impl Drop for DiskShelf {
    fn drop(&mut self) {
        // A lock that is not had at once is held by another program, which
        // will tidy when it ends.
        if let Some(lock) = &self.lock
            && lock.unlock().is_ok()
            && lock.try_lock().is_ok()
        {
            tidy(&self.folder, self.limit_bytes);
        }
    }
}

/// Removes what was left half written, and what was not used for longest
/// until the rest fits. What cannot be removed stays: it harms nobody.
fn tidy(folder: &Path, limit_bytes: u64) {
    let Ok(entries) = fs::read_dir(folder) else {
        return;
    };
    let mut kept: Vec<(SystemTime, u64, PathBuf)> = Vec::new();
    for entry in entries.flatten() {
        let path = entry.path();
        let name = entry.file_name();
        if name.to_string_lossy().starts_with(UNFINISHED) {
            drop(fs::remove_file(&path));
        } else if path.extension() == Some(OsStr::new(SUFFIX))
            && let Ok(data) = entry.metadata()
        {
            let used = data.modified().unwrap_or(SystemTime::UNIX_EPOCH);
            kept.push((used, data.len(), path));
        }
    }
    kept.sort();
    let mut bytes: u64 = kept.iter().map(|(_, bytes, _)| bytes).sum();
    for (_, own_bytes, path) in kept {
        if bytes <= limit_bytes {
            break;
        }
        if fs::remove_file(path).is_ok() {
            bytes -= own_bytes;
        }
    }
}

impl Shelf for DiskShelf {
    fn has(&self, name: &ShelfName) -> bool {
        let checked = || {
            let mut file = Entry::open(&self.path(name), name)?;
            file.check()?;
            // The time of the last use; where it cannot be set, that of writing counts.
            drop(file.bytes.get_ref().set_modified(now()));
            Some(())
        };
        checked().is_some()
    }

    fn read(
        &self,
        name: &ShelfName,
        window: CellWindow,
        layers: Range<usize>,
    ) -> Option<Vec<Vec<f32>>> {
        let mut file = Entry::open(&self.path(name), name)?;
        let is_inside = window.col + window.width <= file.header.width
            && window.row + window.height <= file.header.height
            && layers.end <= file.header.layers;
        if !is_inside {
            return None;
        }
        layers.map(|layer| file.layer(layer, window)).collect()
    }

    fn keep(&self, name: &ShelfName, layers: &ShelfLayers<'_>) -> Result<(), NotKept> {
        let blocks = blocks_of(layers.width, layers.height);
        let all = layers.layers.par_iter().flat_map(|layer| {
            let blocks = blocks.par_iter();
            blocks.map(|block| packed(layer, layers.width, block))
        });
        let packed: Vec<_> = all.collect::<io::Result<_>>().map_err(|e| not_kept(&e))?;
        let header = Header {
            width: layers.width,
            height: layers.height,
            layers: layers.layers.len(),
        };
        let written = || {
            let mut builder = tempfile::Builder::new();
            let mut file = builder.prefix(UNFINISHED).tempfile_in(&self.folder)?;
            file.write_all(&assembled(&header, name, &packed))?;
            for block in &packed {
                file.write_all(&block.bytes)?;
            }
            // The digests tell what a power cut leaves: nothing waits for the disk.
            file.persist(self.path(name)).map_err(|failed| failed.error)
        };
        written().map(drop).map_err(|e| not_kept(&e))
    }
}

fn not_kept(error: &io::Error) -> NotKept {
    NotKept {
        reason: error.to_string(),
    }
}

#[expect(
    clippy::disallowed_methods,
    reason = "when something was last used decides what is thrown away, never a result"
)]
fn now() -> SystemTime {
    SystemTime::now()
}

/// A file whose header is in order.
struct Entry {
    bytes: BufReader<File>,
    header: Header,
    /// Where each block lies and what its digest is, layer by layer.
    table: Vec<Block>,
}

impl Entry {
    #[expect(
        clippy::disallowed_methods,
        reason = "`store` is where files are opened"
    )]
    fn open(path: &Path, name: &ShelfName) -> Option<Self> {
        let file = File::open(path).ok()?;
        let length = file.metadata().ok()?.len();
        let mut bytes = BufReader::with_capacity(1 << 18, file);
        let (header, table) = Header::read(&mut bytes, length, name)?;
        Some(Self {
            bytes,
            header,
            table,
        })
    }

    fn block(&mut self, index: usize) -> Option<Vec<u8>> {
        let block = self.table.get(index)?;
        let mut bytes = vec![0; block.length];
        self.bytes.seek(SeekFrom::Start(block.offset)).ok()?;
        self.bytes.read_exact(&mut bytes).ok()?;
        Some(bytes)
    }

    /// Whether every block is as it was written.
    fn check(&mut self) -> Option<()> {
        (0..self.table.len()).try_for_each(|index| {
            let bytes = self.block(index)?;
            self.table[index].is_of(&bytes).then_some(())
        })
    }

    fn layer(&mut self, layer: usize, window: CellWindow) -> Option<Vec<f32>> {
        let blocks = blocks_of(self.header.width, self.header.height);
        let first = layer * blocks.len();
        let mut wanted = Vec::new();
        for (index, block) in blocks.into_iter().enumerate() {
            if let Some(common) = block.intersect(window) {
                wanted.push((block, common, first + index, self.block(first + index)?));
            }
        }
        let table = &self.table;
        let unpack = |(block, common, index, bytes): (CellWindow, _, usize, Vec<u8>)| {
            let is_whole = table[index].is_of(&bytes);
            let cells = is_whole.then(|| unpacked(&bytes, &block)).flatten()?;
            Some((block, common, cells))
        };
        let found: Option<Vec<_>> = wanted.into_par_iter().map(unpack).collect();
        let mut layer = vec![f32::NAN; window.width * window.height];
        for (block, common, cells) in found? {
            let common: CellWindow = common;
            for row in common.row..common.row + common.height {
                let from = (row - block.row) * block.width + common.col - block.col;
                let to = (row - window.row) * window.width + common.col - window.col;
                layer[to..to + common.width].copy_from_slice(&cells[from..from + common.width]);
            }
        }
        Some(layer)
    }
}
