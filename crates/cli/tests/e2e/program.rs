//! Runs the program.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::OnceLock;

use serde_json::Value;
use tempfile::TempDir;

/// What a run came to.
pub(crate) struct Ran {
    pub(crate) code: i32,
    pub(crate) stdout: String,
    pub(crate) stderr: String,
}

impl Ran {
    fn new(output: &Output) -> Self {
        let ran = Self {
            code: output.status.code().unwrap_or(-1),
            stdout: String::from_utf8_lossy(&output.stdout).into_owned(),
            stderr: String::from_utf8_lossy(&output.stderr).into_owned(),
        };
        assert!(
            ran.code != 3 && !ran.stderr.contains("a fault of the program"),
            "{}",
            ran.stderr
        );
        ran
    }

    /// The one document.
    pub(crate) fn json(&self) -> Value {
        serde_json::from_str(&self.stdout)
            .unwrap_or_else(|error| panic!("{error} in: {}\n{}", self.stdout, self.stderr))
    }

    pub(crate) fn all(&self) -> String {
        format!("{}{}", self.stdout, self.stderr)
    }
}

pub(crate) fn command() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_mastwright"));
    command.env("SOURCE_DATE_EPOCH", "1700000000");
    command
}

pub(crate) fn mastwright(args: &[&str]) -> Ran {
    Ran::new(&command().args(args).output().unwrap())
}

/// A copy of the example project, results and all, that a test may spoil.
pub(crate) struct Project {
    folder: TempDir,
}

impl Project {
    pub(crate) fn example() -> Self {
        static ORIGINAL: OnceLock<TempDir> = OnceLock::new();
        let original = ORIGINAL.get_or_init(|| {
            let folder = TempDir::new().unwrap();
            let dir = folder.path().to_str().unwrap();
            let ran = mastwright(&["demo", dir, "--no-open", "--quiet"]);
            assert_eq!(ran.code, 0, "{}", ran.all());
            folder
        });
        let folder = TempDir::new().unwrap();
        copy(original.path(), folder.path());
        Self { folder }
    }

    pub(crate) fn dir(&self) -> &str {
        self.folder.path().to_str().unwrap()
    }

    pub(crate) fn path(&self, file: &str) -> PathBuf {
        self.folder.path().join(file)
    }

    pub(crate) fn text(&self, file: &str) -> String {
        fs::read_to_string(self.path(file)).unwrap()
    }

    pub(crate) fn write(&self, file: &str, bytes: impl AsRef<[u8]>) {
        fs::write(self.path(file), bytes).unwrap();
    }

    pub(crate) fn replace(&self, file: &str, from: &str, to: &str) {
        let text = self.text(file);
        assert!(text.contains(from), "{file} has no `{from}`");
        self.write(file, text.replacen(from, to, 1));
    }

    /// Findings of `check`, and its exit code.
    pub(crate) fn check(&self) -> (Vec<Value>, i32) {
        let ran = mastwright(&["check", self.dir(), "--json"]);
        let findings = ran.json()["findings"].as_array().unwrap().clone();
        (findings, ran.code)
    }
}

fn copy(from: &Path, to: &Path) {
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            fs::create_dir_all(&target).unwrap();
            copy(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
}
