//! `open`: the workspace in the browser.

use std::fs;

use anyhow::Context as _;
use serde_json::json;
use server::Settings;

use crate::args::Open;
use crate::console::Console;
use crate::exit::Exit;
use crate::progress::stop_if_interrupted;
use crate::results::unwritable;

/// Serves the folder until the person ends it; a folder that is not there is made.
pub(super) fn run(args: &Open, console: &Console) -> anyhow::Result<Exit> {
    if !args.dir.exists() {
        fs::create_dir_all(&args.dir).with_context(|| unwritable(&args.dir))?;
    }
    let settings = Settings {
        folder: args.dir.clone(),
        port: args.port,
        threads: console.threads,
        tile_address: args.tiles.clone(),
    };
    let opened = |address: &str| {
        console.text(&format!("workspace: {address}\n"));
        console.remark("the address is a key: who has it may change the project. Ctrl-C ends\n");
        // A document that cannot be made has no address in it either.
        let _ = console.document(&json!({ "address": address, "folder": args.dir }));
        if !args.no_browser && open::that_detached(address).is_err() {
            console.remark("no browser could be opened here; open the address in one\n");
        }
    };
    server::serve(&settings, opened, || stop_if_interrupted().is_err())?;
    Ok(Exit::Done)
}
