//! What happens: pure evaluation of a network.
