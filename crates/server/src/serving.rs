//! Connections: the address, the layers around every answer, the end.

use std::net::{Ipv4Addr, SocketAddr};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::serve::ListenerExt as _;
use tokio::net::{TcpListener, TcpStream};
use tower_http::catch_panic::CatchPanicLayer;

use crate::guard::{self, Guard, Token};
use crate::workspace::{OpenError, Workspace};
use crate::{page, routes};

/// What is served, and where.
#[derive(Debug, Clone, Default)]
pub struct Settings {
    /// The project folder; it may be empty.
    pub folder: PathBuf,
    /// Port of the loopback address; 0 takes any that is free.
    pub port: u16,
    /// Threads to evaluate with; 0 takes every core.
    pub threads: usize,
    /// Address of map tiles with `{z}`, `{x}`, `{y}`; without it no request leaves the machine.
    pub tile_address: Option<String>,
}

/// Why a project is not served.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// The project cannot be opened.
    #[error(transparent)]
    Open(#[from] OpenError),
    /// There are no random numbers for a token.
    #[error("the system gives no random numbers: {0}")]
    NoToken(#[from] getrandom::Error),
    /// The tile address is no address.
    #[error(
        "`{0}` is no address of map tiles\nhint: write it as `https://host/path/{{z}}/{{x}}/{{y}}.png`"
    )]
    TileAddress(String),
    /// The address cannot be taken.
    #[error(
        "port {port} cannot be taken: {error}\nhint: choose another with `--port`, or 0 for any that is free"
    )]
    Port {
        /// The port.
        port: u16,
        /// Why.
        #[source]
        error: std::io::Error,
    },
    /// Connections could not be served.
    #[error("connections cannot be served: {0}")]
    Connections(#[from] std::io::Error),
}

/// A project, ready to be asked. Made within a tokio runtime.
#[derive(Debug)]
pub struct App {
    workspace: Arc<Workspace>,
    guard: Arc<Guard>,
    token: Token,
    port: u16,
}

impl App {
    /// Opens a project for a port and begins to study it.
    ///
    /// # Errors
    /// [`ServeError`].
    pub fn open(settings: &Settings, port: u16) -> Result<Self, ServeError> {
        let tiles = settings.tile_address.as_deref();
        if let Some(bad) = tiles.filter(|address| guard::origin_of(address).is_none()) {
            return Err(ServeError::TileAddress(bad.to_owned()));
        }
        let token = Token::generate()?;
        let given = (settings.threads, settings.tile_address.clone());
        let workspace = Workspace::open(&settings.folder, given)?;
        workspace.start_study();
        Ok(Self {
            guard: Arc::new(Guard::new(token.clone(), port, tiles)),
            workspace,
            token,
            port,
        })
    }

    /// The secret that every request has to show.
    pub fn token(&self) -> &Token {
        &self.token
    }

    /// The address that a person opens; it holds the secret.
    pub fn opening_address(&self) -> String {
        format!(
            "http://127.0.0.1:{}/open?token={}",
            self.port,
            self.token.reveal()
        )
    }

    /// Every route behind the guard.
    pub fn router(&self) -> Router {
        let (api, _) = routes::router().split_for_parts();
        Router::new()
            .merge(api)
            .fallback(page::file)
            .with_state(Arc::clone(&self.workspace))
            .layer(CatchPanicLayer::new())
            .layer(axum::middleware::from_fn_with_state(
                Arc::clone(&self.guard),
                guard::let_in,
            ))
    }
}

/// Answers leave as they come, instead of waiting to be joined with others.
fn at_once(connection: &mut TcpStream) {
    // A connection that cannot do so is only slower.
    let _ = connection.set_nodelay(true);
}

/// How often it is asked whether to end.
const ASK_EVERY: Duration = Duration::from_millis(100);

/// Serves a project on the loopback address until `is_over` says so.
///
/// * `opened`: told the opening address once connections are taken.
///
/// # Errors
/// [`ServeError`].
pub fn serve(
    settings: &Settings,
    opened: impl FnOnce(&str),
    is_over: impl Fn() -> bool,
) -> Result<(), ServeError> {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()?;
    let served = runtime.block_on(async {
        let address = SocketAddr::from((Ipv4Addr::LOCALHOST, settings.port));
        let listener = TcpListener::bind(address)
            .await
            .map_err(|error| ServeError::Port {
                port: settings.port,
                error,
            })?;
        let app = App::open(settings, listener.local_addr()?.port())?;
        let watching = tokio::spawn(Arc::clone(&app.workspace).watch_folder());
        opened(&app.opening_address());
        let over = async {
            while !is_over() {
                tokio::time::sleep(ASK_EVERY).await;
            }
        };
        // Open pages keep their connections: the end does not wait for them.
        tokio::select! {
            ended = async { axum::serve(listener.tap_io(at_once), app.router()).await } => ended?,
            () = over => {}
        }
        watching.abort();
        app.workspace.jobs.cancel_all();
        Ok(())
    });
    // Work that still runs has been told to stop.
    runtime.shutdown_timeout(Duration::from_secs(5));
    served
}
