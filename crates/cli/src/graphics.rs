//! A graphics processor for coverage, where one was asked for and is there.

use pipeline::engine::coverage::Sweeper;

use crate::args::GraphicsAdapter;

/// Who works out losses.
pub(crate) enum Machine {
    /// As always.
    Processor,
    /// What was asked for.
    Graphics(Graphics),
    /// The processor in its place, and why.
    StandIn(String),
}

/// An adapter that is open.
pub(crate) struct Graphics {
    sweeper: Sweeper,
    /// Why it left something to the processor since it was last asked.
    left: Box<dyn Fn() -> Option<String>>,
}

impl Machine {
    /// The adapter that was asked for, or the processor.
    pub(crate) fn open(asked: Option<GraphicsAdapter>) -> Self {
        match asked.map(open) {
            None => Self::Processor,
            Some(Ok(graphics)) => Self::Graphics(graphics),
            Some(Err(why)) => Self::StandIn(why),
        }
    }

    pub(crate) fn sweeper(&self) -> Sweeper {
        match self {
            Self::Graphics(graphics) => graphics.sweeper.clone(),
            Self::Processor | Self::StandIn(_) => Sweeper::default(),
        }
    }

    /// Why the processor did some of the work, or all of it, in the adapter's place.
    pub(crate) fn stand_in(&self) -> Option<String> {
        match self {
            Self::Processor => None,
            Self::Graphics(graphics) => (graphics.left)(),
            Self::StandIn(why) => Some(why.clone()),
        }
    }
}

#[cfg(feature = "gpu")]
fn open(asked: GraphicsAdapter) -> Result<Graphics, String> {
    let adapters = match asked {
        GraphicsAdapter::Hardware => gpu::Adapters::Hardware,
        GraphicsAdapter::Software => gpu::Adapters::WithSoftware,
    };
    let gpu = gpu::Gpu::open(adapters).map_err(|error| error.to_string())?;
    let gpu = std::sync::Arc::new(gpu);
    Ok(Graphics {
        sweeper: Sweeper::beside(gpu.name(), std::sync::Arc::clone(&gpu)),
        left: Box::new(move || gpu.handed_on()),
    })
}

#[cfg(not(feature = "gpu"))]
fn open(_: GraphicsAdapter) -> Result<Graphics, String> {
    Err("this program was built without graphics processors\n\
         hint: build it with `cargo build --release --package mastwright --features gpu`"
        .to_owned())
}
