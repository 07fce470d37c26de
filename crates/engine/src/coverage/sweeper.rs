//! Who works out losses.

use std::fmt;
use std::sync::Arc;

use sweep::{GridSweeper, Processor};

/// Who works out losses: the processor, or a machine beside it that agrees with
/// it. What each has found is kept apart, since their last digits differ.
#[derive(Clone)]
pub struct Sweeper {
    /// `None` is the processor.
    name: Option<String>,
    works: Arc<dyn GridSweeper + Send>,
}

impl Sweeper {
    /// A machine beside the processor, by a name that tells it from others.
    pub fn beside(name: &str, works: Arc<impl GridSweeper + Send + 'static>) -> Self {
        Self {
            name: Some(name.to_owned()),
            works,
        }
    }

    /// The name of the machine beside the processor, where it is one.
    pub fn name(&self) -> Option<&str> {
        self.name.as_deref()
    }

    pub(super) fn works(&self) -> &dyn GridSweeper {
        self.works.as_ref()
    }
}

impl Default for Sweeper {
    fn default() -> Self {
        Self {
            name: None,
            works: Arc::new(Processor),
        }
    }
}

impl PartialEq for Sweeper {
    fn eq(&self, other: &Self) -> bool {
        self.name == other.name
    }
}

/// Part of the name under which losses are kept.
impl fmt::Debug for Sweeper {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("Sweeper").field(&self.name).finish()
    }
}
