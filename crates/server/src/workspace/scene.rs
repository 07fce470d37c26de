//! The design at one moment: its texts, what they mean, what is wrong with them.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use pipeline::design::catalogue::Catalogue;
use pipeline::design::{self, ProjectSources, SourceText};
use pipeline::model::{Finding, Network, Severity};
use sha2::{Digest, Sha256};
use store::on_disk::{self, CARDS_FILE, DesignTexts, Stamp};
use store::project::{DESIGN_FILE, PREMISES_FILES, premises_from_geojson};

use super::{OpenError, hex};

/// The design at one moment.
#[derive(Debug, Clone)]
pub(crate) struct Scene {
    pub(crate) folder: PathBuf,
    /// Hash of everything that the answers depend on.
    pub(crate) revision: String,
    pub(crate) sources: ProjectSources,
    /// The texts that changes are written into, byte by byte.
    pub(crate) texts: DesignTexts,
    pub(crate) catalogue: Arc<Catalogue>,
    pub(crate) network: Option<Arc<Network>>,
    /// What reading had to tell, worst first.
    pub(crate) findings: Vec<Finding>,
    pub(crate) stamps: Vec<Stamp>,
}

impl Scene {
    /// Reads a folder.
    pub(crate) fn load(folder: &Path) -> Result<Self, OpenError> {
        let stamps = on_disk::stamps(folder)?;
        let sources = store::project::open(folder)?.sources;
        let texts = DesignTexts::read(folder)?;
        let catalogue = Arc::new(design::catalogue::of(&sources));
        let scene = Self {
            revision: String::new(),
            sources,
            // Read with the sources: nothing of them differs.
            texts: texts.clone(),
            folder: folder.to_owned(),
            catalogue,
            network: None,
            findings: Vec::new(),
            stamps,
        };
        Ok(scene.read(texts))
    }

    /// The same folder with other texts, as if they had been written.
    pub(crate) fn with_texts(&self, texts: DesignTexts) -> Self {
        self.clone().read(texts)
    }

    fn read(mut self, texts: DesignTexts) -> Self {
        if self.texts.design != texts.design {
            let text = texts.design.as_deref().and_then(utf8);
            if let Some(text) = text {
                self.sources.design = Some(SourceText::new(DESIGN_FILE, text));
            }
        }
        if self.texts.premises != texts.premises
            && let Some(text) = texts.premises.as_deref().and_then(utf8)
        {
            self.take_premises(texts.premises_file, text);
        }
        if self.texts.cards != texts.cards
            && let Some(text) = texts.cards.as_deref().and_then(utf8)
        {
            self.take_cards(text);
        }
        self.texts = texts;
        let (network, mut findings) = design::read(&self.sources);
        findings.sort_by(|a, b| {
            let worst = b.severity.cmp(&a.severity);
            worst.then_with(|| a.place.cmp(&b.place))
        });
        self.network = network.map(Arc::new);
        self.findings = findings;
        self.revision = self.hash();
        self
    }

    /// Reads the table of premises anew; its earlier findings go.
    fn take_premises(&mut self, file: &str, text: &str) {
        let source = SourceText::new(file, text);
        let (table, findings) = if file == PREMISES_FILES[0] {
            design::premises_from_csv(&source)
        } else {
            premises_from_geojson(&source)
        };
        let earlier = &mut self.sources.findings;
        earlier.retain(|f| f.place.as_ref().is_none_or(|place| &*place.file != file));
        earlier.extend(findings);
        self.sources.premises = table;
        let files = &mut self.sources.files;
        if let Err(place) = files.binary_search_by(|own| (**own).cmp(file)) {
            files.insert(place, Arc::from(file));
        }
    }

    /// Reads the cards of what was brought in anew, and the patterns that they name.
    fn take_cards(&mut self, text: &str) {
        let cards = &mut self.sources.equipment;
        cards.retain(|own| &*own.file != CARDS_FILE);
        if !text.is_empty() {
            let place = cards.partition_point(|own| &*own.file < CARDS_FILE);
            cards.insert(place, SourceText::new(CARDS_FILE, text));
        }
        store::project::read_patterns(&self.folder, &mut self.sources);
        self.catalogue = Arc::new(design::catalogue::of(&self.sources));
    }

    /// The same as the folder has it: cards that are all gone leave no file.
    pub(crate) fn without_empty_cards(mut self) -> Self {
        self.texts.cards = self.texts.cards.filter(|cards| !cards.is_empty());
        self
    }

    /// The same with the revision of its stamps.
    pub(crate) fn rehashed(mut self) -> Self {
        self.revision = self.hash();
        self
    }

    fn hash(&self) -> String {
        let mut hash = Sha256::new();
        let mut part = |name: &str, bytes: &[u8]| {
            hash.update((name.len() as u64).to_le_bytes());
            hash.update(name.as_bytes());
            hash.update((bytes.len() as u64).to_le_bytes());
            hash.update(bytes);
        };
        for name in [DESIGN_FILE, self.texts.premises_file] {
            part(name, self.texts.file(name).unwrap_or_default());
        }
        let cards = self.sources.plans.iter().chain(&self.sources.equipment);
        for text in cards {
            part(&text.file, text.text.as_bytes());
        }
        let is_text = |file: &str| is_text(file) || file == self.texts.premises_file;
        for stamp in self.stamps.iter().filter(|stamp| !is_text(&stamp.file)) {
            let since = stamp.modified.and_then(|at| {
                let since = at.duration_since(std::time::UNIX_EPOCH);
                since.ok()
            });
            let since = since.map_or(0, |since| since.as_nanos());
            let bytes = [
                stamp.size_bytes.to_le_bytes().to_vec(),
                since.to_le_bytes().to_vec(),
            ];
            part(&stamp.file, &bytes.concat());
        }
        hex(&hash.finalize()[..16])
    }

    /// The network.
    pub(crate) fn network(&self) -> Result<&Arc<Network>, crate::api::problem::Problem> {
        self.network
            .as_ref()
            .ok_or_else(crate::api::problem::Problem::no_network)
    }

    /// Errors that another scene does not have.
    pub(crate) fn errors_beyond(&self, earlier: &Self) -> Vec<Finding> {
        let known = Told::of(&earlier.findings);
        let errors = self.findings.iter();
        let errors = errors.filter(|f| f.severity == Severity::Error);
        errors.filter(|f| !known.has(f)).cloned().collect()
    }
}

/// Findings that were told already, wherever in a text they stood.
pub(crate) struct Told<'a>(BTreeSet<(&'static str, &'a str)>);

impl<'a> Told<'a> {
    pub(crate) fn of(findings: &'a [Finding]) -> Self {
        let told = findings.iter();
        Self(told.map(|f| (f.code, f.message.as_str())).collect())
    }

    pub(crate) fn has(&self, finding: &Finding) -> bool {
        self.0.contains(&(finding.code, finding.message.as_str()))
    }
}

/// Texts whose content is in the hash; what else is in the folder is there by
/// size and time.
fn is_text(file: &str) -> bool {
    file == DESIGN_FILE
        || file == store::project::PLANS_FILE
        || (file.starts_with("equipment/") && file.ends_with(".toml"))
}

/// Text, where it is any.
pub(crate) fn utf8(bytes: &[u8]) -> Option<&str> {
    std::str::from_utf8(bytes).ok()
}
