//! A project that is served, and questions to it.

use std::cell::Cell;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc;
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use anyhow::{Context, bail, ensure};
use serde_json::Value;
use server::Settings;

/// A project that is served until this is dropped.
pub(super) struct Served {
    address: String,
    bearer: String,
    agent: ureq::Agent,
    tickets: Cell<u64>,
    is_over: Arc<AtomicBool>,
    serving: Option<JoinHandle<()>>,
}

/// The machine that the goals speak of has two cores.
const THREADS: usize = 2;
const LONGEST_STUDY: Duration = Duration::from_secs(300);

impl Served {
    pub(super) fn open(folder: &Path) -> anyhow::Result<Self> {
        let settings = Settings {
            folder: folder.to_owned(),
            threads: THREADS,
            ..Settings::default()
        };
        let is_over = Arc::new(AtomicBool::new(false));
        let own = Arc::clone(&is_over);
        let (send, opened) = mpsc::channel();
        let serving = std::thread::spawn(move || {
            let tell = |address: &str| drop(send.send(Ok(address.to_owned())));
            if let Err(error) = server::serve(&settings, tell, || own.load(Ordering::Relaxed)) {
                drop(send.send(Err(error.to_string())));
            }
        });
        let opening = match opened.recv_timeout(Duration::from_secs(60))? {
            Ok(opening) => opening,
            Err(error) => bail!("{error}"),
        };
        let (address, token) = opening.split_once("/open?token=").context("an address")?;
        let config = ureq::Agent::config_builder().http_status_as_error(false);
        Ok(Self {
            address: address.to_owned(),
            bearer: format!("Bearer {token}"),
            agent: config.build().into(),
            tickets: Cell::new(0),
            is_over,
            serving: Some(serving),
        })
    }

    /// A number greater than all before.
    pub(super) fn ticket(&self) -> u64 {
        self.tickets.set(self.tickets.get() + 1);
        self.tickets.get()
    }

    pub(super) fn get(&self, path: &str) -> anyhow::Result<Value> {
        Ok(serde_json::from_slice(&self.read(path, None)?)?)
    }

    /// Milliseconds until an answer is read.
    pub(super) fn get_ms(&self, path: &str) -> anyhow::Result<f64> {
        let began = Instant::now();
        self.read(path, None)?;
        Ok(began.elapsed().as_secs_f64() * 1e3)
    }

    pub(super) fn post_ms(&self, path: &str, question: &Value) -> anyhow::Result<f64> {
        let began = Instant::now();
        self.read(path, Some((question, None)))?;
        Ok(began.elapsed().as_secs_f64() * 1e3)
    }

    pub(super) fn edit(&self, revision: &str, list: &Value) -> anyhow::Result<()> {
        self.read("/api/edits", Some((list, Some(revision))))
            .map(drop)
    }

    fn read(
        &self,
        path: &str,
        question: Option<(&Value, Option<&str>)>,
    ) -> anyhow::Result<Vec<u8>> {
        let address = format!("{}{path}", self.address);
        let mut answer = match question {
            None => self
                .agent
                .get(&address)
                .header("authorization", &self.bearer)
                .call()?,
            Some((body, revision)) => {
                let request = self
                    .agent
                    .post(&address)
                    .header("authorization", &self.bearer);
                let request = request.header("content-type", "application/json");
                let request = match revision {
                    Some(revision) => request.header("if-match", format!("\"{revision}\"")),
                    None => request,
                };
                request.send(&serde_json::to_vec(body)?)?
            }
        };
        let body = answer
            .body_mut()
            .with_config()
            .limit(1 << 30)
            .read_to_vec()?;
        ensure!(
            answer.status().is_success(),
            "{path}: {}: {}",
            answer.status(),
            String::from_utf8_lossy(&body)
        );
        Ok(body)
    }

    pub(super) fn revision(&self) -> anyhow::Result<String> {
        let project = self.get("/api/project")?;
        Ok(project["revision"].as_str().context("one")?.to_owned())
    }

    pub(super) fn premises_ids(&self) -> anyhow::Result<Vec<String>> {
        let network = self.get("/api/network")?;
        let ids = network["premises"]["id"].as_array().context("ids")?.iter();
        Ok(ids.filter_map(|id| Some(id.as_str()?.to_owned())).collect())
    }

    pub(super) fn wait_until_studied(&self) -> anyhow::Result<()> {
        let began = Instant::now();
        while self.get("/api/project")?["study"]["state"] != "current" {
            ensure!(began.elapsed() < LONGEST_STUDY, "the study does not end");
            std::thread::sleep(Duration::from_millis(2));
        }
        Ok(())
    }

    /// Waits until nothing is under way, also what goes on after an answer.
    pub(super) fn rest(&self) {
        let is_busy = || {
            self.get("/api/jobs")
                .is_ok_and(|jobs| jobs.as_array().is_some_and(|j| !j.is_empty()))
        };
        while is_busy() {
            std::thread::sleep(Duration::from_millis(10));
        }
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        self.is_over.store(true, Ordering::Relaxed);
        if let Some(serving) = self.serving.take() {
            drop(serving.join());
        }
    }
}
