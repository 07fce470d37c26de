//! The validated network.
