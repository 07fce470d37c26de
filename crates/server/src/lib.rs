//! The workspace in the browser: one project folder over HTTP, for the person
//! at this machine.
//!
//! * [`api`]: what goes over the wire. [`openapi_json`] describes it.
//! * [`Settings`], [`App`]: a project, ready to be asked.
//! * [`serve`]: the connections.
//!
//! The way of a request: `guard` lets it in (this machine, this page, the
//! token), `routes` understands it, `workspace` answers. The folder is the only
//! state that counts: what is kept in memory is worked out from it again, and
//! the history of changes lies in its results.

pub mod api;
mod guard;
mod page;
mod routes;
mod serving;
mod workspace;

pub use guard::Token;
pub use routes::openapi_json;
pub use serving::{App, ServeError, Settings, serve};
pub use workspace::OpenError;
