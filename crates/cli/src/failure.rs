//! How a failure is told.

use std::panic::PanicHookInfo;

use anstyle::{AnsiColor, Style};
use pipeline::PipelineError;
use pipeline::engine::Interrupted;
use pipeline::engine::explain::ExplainError;
use pipeline::model::Finding;
use serde_json::json;

use crate::console::Console;
use crate::exit::Exit;
use crate::findings_text::{counted, findings_text};

/// Input that cannot be used, with everything that is wrong with it.
#[derive(Debug, thiserror::Error)]
#[error("{message}")]
pub(crate) struct Unusable {
    /// What cannot be used.
    pub(crate) message: String,
    /// Why.
    pub(crate) findings: Vec<Finding>,
}

/// Tells why a command could not be carried out, and gives its exit code.
pub(crate) fn tell(error: &anyhow::Error, console: &Console) -> Exit {
    let findings = findings_of(error);
    let message = format!("{error:#}");
    let (message, hint) = message.split_once("\nhint: ").unwrap_or((&message, ""));
    if console.json {
        let document = json!({ "error": message, "hint": hint, "findings": findings });
        // The document is made of text alone, so it always has a JSON form.
        let _ = console.document(&document);
    } else {
        Console::error(&findings_text(findings));
        let red = AnsiColor::Red.on_default().bold();
        let mut text = format!("{red}error{red:#}: {message}\n");
        if !findings.is_empty() {
            text.push_str(&format!("  {}\n", counted(findings)));
        }
        if !hint.is_empty() {
            let dim = Style::new().dimmed();
            text.push_str(&format!("  {dim}hint:{dim:#} {hint}\n"));
        }
        Console::error(&text);
    }
    exit_of(error)
}

fn findings_of(error: &anyhow::Error) -> &[Finding] {
    if let Some(unusable) = error.downcast_ref::<Unusable>() {
        return &unusable.findings;
    }
    match error.downcast_ref::<PipelineError>() {
        Some(PipelineError::UnusableDesign { findings }) => findings,
        _ => &[],
    }
}

fn exit_of(error: &anyhow::Error) -> Exit {
    let stopped = error.is::<Interrupted>()
        || matches!(
            error.downcast_ref::<PipelineError>(),
            Some(
                PipelineError::Interrupted(_)
                    | PipelineError::Explain(ExplainError::Interrupted(_))
            )
        );
    if stopped {
        Exit::Interrupted
    } else if error.is::<outputs::OutputError>()
        || error.is::<outputs::coverage::CoverageError>()
        || error.is::<serde_json::Error>()
    {
        Exit::OwnFailure
    } else {
        Exit::UnusableInput
    }
}

/// What a person reads when the program itself is at fault.
pub(crate) fn apologise(info: &PanicHookInfo<'_>) {
    let what = info
        .payload()
        .downcast_ref::<&str>()
        .map(|text| (*text).to_owned())
        .or_else(|| info.payload().downcast_ref::<String>().cloned())
        .unwrap_or_default();
    let place = info.location().map_or(String::new(), |at| {
        format!(" at {}:{}", at.file(), at.line())
    });
    Console::error(&format!(
        "error: a fault of the program, not of your design; sorry\n  {what}{place}\n  version {}\n  \
         hint: please report these lines with the command that you gave; your files are as they were\n",
        pipeline::VERSION
    ));
}
