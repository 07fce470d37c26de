//! The way in: arguments to the pipeline, answers to files and the screen.
//!
//! [`args`] is what was typed, [`commands`] what it means, [`console`] the
//! only place that prints, [`exit`] how it ends.

mod args;
mod clock;
mod commands;
mod console;
mod exit;
mod failure;
mod findings_text;
mod graphics;
mod progress;
mod results;
mod summary_text;

use std::panic;
use std::process::ExitCode;

use clap::Parser as _;

use crate::console::Console;
use crate::exit::Exit;

fn main() -> ExitCode {
    panic::set_hook(Box::new(failure::apologise));
    let typed = args::Typed::parse();
    let console = Console::new(&typed.global);
    // Whatever goes wrong inside is told by the hook; here it only gets its exit code.
    let outcome = panic::catch_unwind(panic::AssertUnwindSafe(|| {
        commands::run(&typed.command, &console)
    }));
    let exit = match outcome {
        Ok(Ok(exit)) => exit,
        Ok(Err(error)) => failure::tell(&error, &console),
        Err(_) => Exit::OwnFailure,
    };
    exit.into()
}
