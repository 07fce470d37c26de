//! Work under way: watched, told of, and stopped.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, AtomicU64, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use pipeline::engine::Progress;
use tokio::sync::broadcast;

use super::held;
use crate::api::event::{Event, Job};

/// Everything under way.
#[derive(Debug, Default)]
pub(crate) struct Jobs {
    last: AtomicU64,
    running: Arc<Mutex<BTreeMap<u64, Arc<JobState>>>>,
}

/// One piece of work.
#[derive(Debug)]
pub(crate) struct JobState {
    pub(crate) id: u64,
    kind: &'static str,
    is_cancelled: AtomicBool,
    stage: Mutex<&'static str>,
    done: AtomicUsize,
    total: AtomicUsize,
    told: Mutex<Option<Instant>>,
    events: broadcast::Sender<Event>,
}

/// A piece of work for as long as it runs.
#[derive(Debug)]
pub(crate) struct Running {
    pub(crate) job: Arc<JobState>,
    running: Arc<Mutex<BTreeMap<u64, Arc<JobState>>>>,
}

impl Drop for Running {
    fn drop(&mut self) {
        held(&self.running).remove(&self.job.id);
    }
}

/// Stops a piece of work when nobody waits for it any more.
#[derive(Debug)]
pub(crate) struct CancelOnDrop(pub(crate) Arc<JobState>);

impl Drop for CancelOnDrop {
    fn drop(&mut self) {
        self.0.cancel();
    }
}

/// No more often than this is progress told.
const TELL_EVERY: Duration = Duration::from_millis(120);

impl Jobs {
    pub(crate) fn begin(&self, kind: &'static str, events: &broadcast::Sender<Event>) -> Running {
        let job = Arc::new(JobState {
            id: self.last.fetch_add(1, Ordering::Relaxed) + 1,
            kind,
            is_cancelled: AtomicBool::new(false),
            stage: Mutex::new(""),
            done: AtomicUsize::new(0),
            total: AtomicUsize::new(0),
            told: Mutex::new(None),
            events: events.clone(),
        });
        held(&self.running).insert(job.id, Arc::clone(&job));
        Running {
            job,
            running: Arc::clone(&self.running),
        }
    }

    /// Stops a job; false where there is none of that number.
    pub(crate) fn cancel(&self, id: u64) -> bool {
        let running = held(&self.running);
        running.get(&id).map(|job| job.cancel()).is_some()
    }

    /// Stops everything, because the program ends.
    pub(crate) fn cancel_all(&self) {
        for job in held(&self.running).values() {
            job.cancel();
        }
    }

    pub(crate) fn list(&self) -> Vec<Job> {
        held(&self.running).values().map(|job| job.show()).collect()
    }
}

impl JobState {
    pub(crate) fn cancel(&self) {
        self.is_cancelled.store(true, Ordering::Relaxed);
    }

    fn show(&self) -> Job {
        Job {
            id: self.id,
            kind: self.kind.to_owned(),
            stage: (*held(&self.stage)).to_owned(),
            done: self.done.load(Ordering::Relaxed),
            total: self.total.load(Ordering::Relaxed),
        }
    }

    #[expect(
        clippy::disallowed_methods,
        reason = "how often a person is told depends on the time"
    )]
    fn tell(&self, is_new_stage: bool) {
        let now = Instant::now();
        let mut told = held(&self.told);
        let is_due = told.is_none_or(|last| now.duration_since(last) >= TELL_EVERY);
        if !is_new_stage && !is_due {
            return;
        }
        *told = Some(now);
        drop(told);
        let Job {
            stage, done, total, ..
        } = self.show();
        let _ = self.events.send(Event::Progress {
            job: self.id,
            stage,
            done,
            total,
        });
    }
}

impl Progress for JobState {
    fn begin(&self, stage: &'static str, total: usize) {
        *held(&self.stage) = stage;
        self.done.store(0, Ordering::Relaxed);
        self.total.store(total, Ordering::Relaxed);
        self.tell(true);
    }

    fn advance(&self, items: usize) {
        self.done.fetch_add(items, Ordering::Relaxed);
        self.tell(false);
    }

    fn interrupted(&self) -> bool {
        self.is_cancelled.load(Ordering::Relaxed)
    }
}
