//! One project folder as it is worked on.
//!
//! [`scene`] is the design at one moment, [`study`] what comes of it,
//! [`resolve`] turns changes that came over the wire into edits, [`accept`]
//! writes them, [`history`] takes them back, [`cover`] paints the map,
//! [`jobs`] is what runs meanwhile.

pub(crate) mod accept;
pub(crate) mod bring_in;
pub(crate) mod cover;
pub(crate) mod coverage_files;
pub(crate) mod history;
pub(crate) mod import;
pub(crate) mod jobs;
pub(crate) mod outputs;
pub(crate) mod raster_facts;
pub(crate) mod resolve;
pub(crate) mod scene;
pub(crate) mod start;
pub(crate) mod study;

use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};
use std::time::Duration;

use pipeline::engine::RunControl;
use store::project::{CACHE_FOLDER, RESULTS_FOLDER};
use store::shelf::DiskShelf;
use tokio::sync::{broadcast, watch};

use crate::api::event::Event;
use crate::api::problem::Problem;
use crate::api::project::StudyState;
use cover::CoverKept;
use history::Book;
use jobs::{JobState, Jobs};
use scene::Scene;
use study::{GroundKept, Study};

/// Why a project could not be opened.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// The folder cannot be read.
    #[error(transparent)]
    Project(#[from] store::project::ProjectError),
    /// One of its files cannot be read.
    #[error("the project cannot be read: {0}")]
    Unreadable(#[from] std::io::Error),
}

/// A project folder as it is worked on.
#[derive(Debug)]
pub(crate) struct Workspace {
    pub(crate) folder: PathBuf,
    pub(crate) threads: usize,
    pub(crate) tile_address: Option<String>,
    pub(crate) jobs: Jobs,
    pub(crate) events: broadcast::Sender<Event>,
    state: Mutex<State>,
    /// Held while files are written: one change after the other.
    pub(crate) pen: Mutex<Book>,
    pub(crate) ground: Mutex<Option<GroundKept>>,
    pub(crate) cover: Mutex<CoverKept>,
    /// Losses in the results, opened when they are first wanted.
    shelf: OnceLock<Option<DiskShelf>>,
    /// Revision whose losses were last asked for beforehand.
    pub(crate) prepared: Mutex<Option<String>>,
    /// Latest preview of every window.
    pub(crate) newest: cover::Newest,
    studied: watch::Sender<u64>,
}

/// What is known at this moment.
#[derive(Debug)]
pub(crate) struct State {
    pub(crate) scene: Arc<Scene>,
    /// Earlier scenes, the latest last: changes are made from what a window saw.
    recent: VecDeque<Arc<Scene>>,
    pub(crate) study: Option<Arc<Study>>,
    /// Studies of other revisions, the latest last: undo and what-if need not wait.
    shelf: VecDeque<Arc<Study>>,
    pub(crate) study_state: StudyState,
}

/// Scenes that a window may be behind.
const MOST_RECENT: usize = 24;
/// Studies kept beside the current one.
const MOST_STUDIES: usize = 3;
/// As much as coverage from the command line keeps where nobody says otherwise.
const LARGEST_SHELF_BYTES: u64 = 10_000_000_000;
/// How often the folder is looked at for changes from outside.
const LOOK_EVERY: Duration = Duration::from_millis(700);

impl Workspace {
    /// Opens a folder.
    pub(crate) fn open(
        folder: &Path,
        (threads, tile_address): (usize, Option<String>),
    ) -> Result<Arc<Self>, OpenError> {
        store::remove_leftovers(folder);
        let mut book = Book::open(folder);
        book.finish_what_was_begun(folder);
        let scene = Arc::new(Scene::load(folder)?);
        let workspace = Arc::new(Self {
            folder: folder.to_owned(),
            threads,
            tile_address,
            jobs: Jobs::default(),
            events: broadcast::channel(256).0,
            state: Mutex::new(State {
                scene,
                recent: VecDeque::new(),
                study: None,
                shelf: VecDeque::new(),
                study_state: StudyState::None,
            }),
            pen: Mutex::new(book),
            ground: Mutex::new(None),
            cover: Mutex::new(CoverKept::default()),
            shelf: OnceLock::new(),
            prepared: Mutex::new(None),
            newest: cover::Newest::default(),
            studied: watch::channel(0).0,
        });
        Ok(workspace)
    }

    /// How work is run, watched by a job.
    pub(crate) fn run<'a>(&self, job: &'a JobState) -> RunControl<'a> {
        RunControl {
            progress: job,
            threads: self.threads,
        }
    }

    /// Losses that lie in the results; `None` where there is no room for them.
    pub(crate) fn shelf(&self) -> Option<&DiskShelf> {
        let open = || {
            let folder = self.folder.join(RESULTS_FOLDER).join(CACHE_FOLDER);
            DiskShelf::open(&folder, LARGEST_SHELF_BYTES).ok()
        };
        self.shelf.get_or_init(open).as_ref()
    }

    pub(crate) fn state(&self) -> MutexGuard<'_, State> {
        held(&self.state)
    }

    /// The design as it stands.
    pub(crate) fn scene(&self) -> Arc<Scene> {
        Arc::clone(&self.state().scene)
    }

    /// The design of an earlier revision, as long as it is remembered.
    pub(crate) fn scene_of(&self, revision: &str) -> Option<Arc<Scene>> {
        let state = self.state();
        let mut known = std::iter::once(&state.scene).chain(state.recent.iter().rev());
        known.find(|scene| scene.revision == revision).cloned()
    }

    /// A study of a revision, where one is kept.
    pub(crate) fn study_of(&self, revision: &str) -> Option<Arc<Study>> {
        let state = self.state();
        let mut known = state.study.iter().chain(state.shelf.iter().rev());
        known.find(|study| study.revision == revision).cloned()
    }

    /// The latest study, whatever it is of.
    pub(crate) fn latest_study(&self) -> Option<Arc<Study>> {
        self.state().study.clone()
    }

    /// Puts a study aside for when its revision comes.
    pub(crate) fn shelve(&self, study: Arc<Study>) {
        let mut state = self.state();
        state.shelf.retain(|kept| kept.revision != study.revision);
        state.shelf.push_back(study);
        while state.shelf.len() > MOST_STUDIES {
            state.shelf.pop_front();
        }
    }

    /// Takes a new scene for the current one and begins to study it.
    pub(crate) fn enter(self: &Arc<Self>, scene: Scene, from_outside: bool) -> Arc<Scene> {
        let scene = Arc::new(scene);
        {
            let mut state = self.state();
            let earlier = std::mem::replace(&mut state.scene, Arc::clone(&scene));
            if earlier.revision == scene.revision {
                return scene;
            }
            state.recent.push_back(earlier);
            while state.recent.len() > MOST_RECENT {
                state.recent.pop_front();
            }
        }
        self.send(Event::Changed {
            revision: scene.revision.clone(),
            from_outside,
        });
        self.start_study();
        scene
    }

    /// Reads the folder again where it looks different from outside.
    pub(crate) fn look(self: &Arc<Self>) -> Result<bool, OpenError> {
        let _pen = held(&self.pen);
        self.look_with_pen()
    }

    /// The same for who holds the pen already.
    pub(crate) fn look_with_pen(self: &Arc<Self>) -> Result<bool, OpenError> {
        let stamps = store::on_disk::stamps(&self.folder)?;
        let current = self.scene();
        if stamps == current.stamps {
            return Ok(false);
        }
        let scene = Scene::load(&self.folder)?;
        let is_new = scene.revision != current.revision;
        self.enter(scene, true);
        Ok(is_new)
    }

    /// Looks at the folder for as long as anybody asks.
    pub(crate) async fn watch_folder(self: Arc<Self>) {
        loop {
            tokio::time::sleep(LOOK_EVERY).await;
            let workspace = Arc::clone(&self);
            // What cannot be read now is told when it is asked for.
            let _ = tokio::task::spawn_blocking(move || workspace.look()).await;
        }
    }

    pub(crate) fn send(&self, event: Event) {
        // Nobody listening is no fault.
        let _ = self.events.send(event);
    }
}

/// A lock whose holder may have failed: what it guards is whole all the same,
/// because it is only ever exchanged as a whole.
pub(crate) fn held<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Hexadecimal digits.
pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Runs what takes a while away from the connections.
pub(crate) async fn aside<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, Problem> + Send + 'static,
) -> Result<T, Problem> {
    match tokio::task::spawn_blocking(work).await {
        Ok(result) => result,
        Err(_) => Err(Problem::fault(
            "a fault of the program; your files are as they were",
        )),
    }
}
