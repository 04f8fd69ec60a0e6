//! Completions and man pages: of every command, in a form that the tools they are for take.
#![allow(clippy::unwrap_used)] // a test helper may fail the test

use std::process::{Command, Output};

fn foreland(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_foreland")).args(arguments).output().unwrap()
}

const COMMANDS: [&str; 11] = [
    "approach",
    "chart",
    "completions",
    "debrief",
    "drill",
    "expect",
    "fix",
    "manual",
    "reckon",
    "set",
    "watch",
];

#[test]
fn each_shell_is_told_every_command() {
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let done = foreland(&["completions", shell]);
        let script = String::from_utf8(done.stdout).unwrap();
        assert!(done.status.success() && done.stderr.is_empty(), "{shell}");
        for command in COMMANDS {
            assert!(script.contains(command), "{shell} {command}");
        }
    }
    let done = foreland(&["completions", "teletype"]);
    assert_eq!(done.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&done.stderr).contains("bash, elvish, fish"));
}

/// Bash takes the script, and completes a command from its first letters.
#[test]
fn bash_completes_by_it() {
    let script = String::from_utf8(foreland(&["completions", "bash"]).stdout).unwrap();
    let ask = "COMP_WORDS=(foreland appr); COMP_CWORD=1; _foreland foreland appr foreland; \
               printf '%s\\n' \"${COMPREPLY[@]}\"";
    let Ok(done) = Command::new("bash").arg("-c").arg(format!("{script}\n{ask}")).output() else {
        println!("no bash here: not tried");
        return;
    };
    assert_eq!(String::from_utf8_lossy(&done.stdout).trim(), "approach", "{done:?}");
}

#[test]
fn each_command_has_a_page_with_its_options_and_the_caution() {
    let folder = tempfile::tempdir().unwrap();
    let done = foreland(&["manual", "--to", folder.path().to_str().unwrap()]);
    assert!(done.status.success(), "{done:?}");
    for command in COMMANDS {
        let page = folder.path().join(format!("foreland-{command}.1"));
        let text = std::fs::read_to_string(&page).unwrap();
        assert!(text.contains(".TH") && text.contains(".SH SYNOPSIS"), "{command}");
        assert!(text.contains(&format!("foreland\\-{command}")), "{command}: {text}");
    }
    let whole = std::fs::read_to_string(folder.path().join("foreland.1")).unwrap();
    assert!(whole.contains("never the sole means of navigation"), "{whole}");
    let (printed, none) = (foreland(&["manual"]), foreland(&["manual", "--to", "/none/such"]));
    assert!(String::from_utf8_lossy(&printed.stdout).contains(".TH foreland"));
    assert_eq!(none.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&none.stderr).contains("takes a folder that is there"));
}
