//! What other programs want to know: the schema, completions, the manual page.

use clap::CommandFactory as _;
use clap_complete::Shell;

use crate::args::Typed;
use crate::console::Console;
use crate::exit::Exit;

pub(super) fn schema(console: &Console) -> anyhow::Result<Exit> {
    let mut text = pipeline::design::schema_json();
    if !text.ends_with('\n') {
        text.push('\n');
    }
    console.bytes(text.as_bytes());
    Ok(Exit::Done)
}

pub(super) fn completions(shell: Shell, console: &Console) -> anyhow::Result<Exit> {
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Typed::command(), "mastwright", &mut script);
    console.bytes(&script);
    Ok(Exit::Done)
}

/// The page of the program, then one for each command.
pub(super) fn man(console: &Console) -> anyhow::Result<Exit> {
    let mut page = Vec::new();
    let mut command = Typed::command();
    command.build();
    clap_mangen::Man::new(command.clone()).render(&mut page)?;
    for sub in command.get_subcommands() {
        clap_mangen::Man::new(sub.clone()).render(&mut page)?;
    }
    console.bytes(&page);
    Ok(Exit::Done)
}
