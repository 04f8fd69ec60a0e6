use thiserror::Error;

use crate::contact::MOST_BANK_DEG;

/// Why a line typed at the watch is no entry, and what would be one.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum EntryError {
    /// Nothing was typed.
    #[error("nothing typed: a contact is a range and a bearing, like \"17.3 042\"")]
    Empty,
    /// More than a line holds.
    #[error("longer than {most} characters: shorten it")]
    TooLong {
        /// The most characters taken.
        most: usize,
    },
    /// A character that no terminal should be sent.
    #[error("holds a control character: type it again")]
    Control,
    /// A number that is neither plainly a range nor plainly a bearing.
    #[error(
        "\"{text}\" is neither: a bearing has three figures (042), a range one or two before the point (17.3); else write r{text} or b{text}"
    )]
    Unclear {
        /// The number as typed.
        text: String,
    },
    /// A number with an ending that means nothing here.
    #[error(
        "\"{text}\": \"{ending}\" ends no number; t m c g r (or rel) end a bearing, nm a range"
    )]
    Ending {
        /// The number as typed.
        text: String,
        /// What stands after it.
        ending: String,
    },
    /// Two numbers read as ranges.
    #[error(
        "two ranges, {first} and {second}: a bearing has three figures (042) or a letter (42t); a decimal point is a point"
    )]
    TwoRanges {
        /// The first, as typed.
        first: String,
        /// The second, as typed.
        second: String,
    },
    /// Two numbers read as bearings.
    #[error(
        "two bearings, {first} and {second}: a range has one or two figures (17.3), or write r{second}"
    )]
    TwoBearings {
        /// The first, as typed.
        first: String,
        /// The second, as typed.
        second: String,
    },
    /// A letter between a bearing and a figure that may belong to either.
    #[error(
        "\"{bearing} {letter} {figure}\" reads two ways: write \"{bearing}r {figure}\" for a relative bearing, \"{bearing} r{figure}\" for a range"
    )]
    KindOrRange {
        /// The bearing, as typed.
        bearing: String,
        /// The letter, as typed.
        letter: String,
        /// The figure behind it, as typed.
        figure: String,
    },
    /// A last letter that says what the bearing is counted from, and is a contact's label too.
    #[error(
        "a last {label} reads two ways: write \"{correction}\" for contact {label}, \"{bearing}\" for a {kind} bearing"
    )]
    KindOrLabel {
        /// The letter.
        label: String,
        /// The line that corrects the contact.
        correction: String,
        /// The bearing with its kind, as it is typed.
        bearing: String,
        /// The kind of bearing.
        kind: &'static str,
    },
    /// The same thing said twice.
    #[error("{what} given twice: \"{first}\" and \"{second}\"")]
    Twice {
        /// What was given twice.
        what: &'static str,
        /// The first, as typed.
        first: String,
        /// The second, as typed.
        second: String,
    },
    /// A bearing off the rose.
    #[error("bearing {text}: bearings run from 000 to 360")]
    Bearing {
        /// As typed.
        text: String,
    },
    /// A range that no radar shows.
    #[error("range {text}: ranges run from above 0 to {most} NM")]
    Range {
        /// As typed.
        text: String,
        /// The greatest range taken, in nautical miles.
        most: f64,
    },
    /// A word that wants a number after it.
    #[error("{word} wants a number after it, like \"{example}\"")]
    NoNumber {
        /// The word.
        word: String,
        /// What would be right.
        example: &'static str,
    },
    /// No range, no bearing, and nothing else that is an entry.
    #[error(
        "\"{text}\" has no range and no bearing{near}; a contact is like \"17.3 042\", ? is help"
    )]
    NothingMeasured {
        /// The line as typed.
        text: String,
        /// `: did you mean undo?`, or nothing.
        near: String,
    },
    /// A line that is no entry, and begins with what is nearly a command's word.
    #[error("{why}; or did you mean {word}?")]
    Slip {
        /// What is wrong with it as a contact.
        why: String,
        /// The command.
        word: &'static str,
    },
    /// A time that reads as none.
    #[error("\"{text}\" is no time: write @0341, @03:41:10 or -2m")]
    Time {
        /// As typed.
        text: String,
    },
    /// A height that reads as none, or is out of its limits.
    #[error("height \"{text}\": write it in feet above the sea, like \"h 2000\"")]
    Height {
        /// As typed.
        text: String,
    },
    /// A direction off the rose.
    #[error("{what} {text}: {what}s run from 000 to 360")]
    Rose {
        /// Heading or track.
        what: &'static str,
        /// As typed.
        text: String,
    },
    /// A speed that nothing with this radar makes.
    #[error("{what} {text}: speeds are taken from {least} to {most} kn")]
    Speed {
        /// Which speed.
        what: &'static str,
        /// As typed.
        text: String,
        /// The least taken, in knots.
        least: f64,
        /// The greatest taken, in knots.
        most: f64,
    },
    /// A height that no antenna is at.
    #[error("height {text}: heights are taken from 0 to {most} ft")]
    HeightLimit {
        /// As typed.
        text: String,
        /// The greatest taken, in feet.
        most: f64,
    },
    /// A track from before the leg in force, which it would not change.
    #[error(
        "track from {asked}Z: {why} at {since}Z; give a time from then on, like \"{retype}\"{undo}"
    )]
    TrackBefore {
        /// When it was asked from.
        asked: String,
        /// What stands since.
        why: &'static str,
        /// Since when.
        since: String,
        /// The line from then on.
        retype: String,
        /// `, or undo that first`, or nothing.
        undo: &'static str,
    },
    /// A heading that reads as none.
    #[error("heading \"{text}\": write it like \"hdg 070\", \"hdg 070m\"")]
    Heading {
        /// As typed.
        text: String,
    },
    /// A bank that reads as none, or is steeper than a trace is read in.
    #[error(
        "bank \"{text}\": write it like \"bank 10r\", right wing down, \"bank 10l\" or \"bank 0\", to {MOST_BANK_DEG:.0}°"
    )]
    Bank {
        /// As typed.
        text: String,
    },
    /// A reckoning that reads as none.
    #[error(
        "reckoning: {why}; write it like \"dr 38 12.9 S, 21 30.5 W\", then \"sigma 4\" and \"@0340\" if need be"
    )]
    Reckoning {
        /// What is wrong with it.
        why: String,
    },
    /// A track and speed that read as none.
    #[error("track \"{text}\": write track and speed made good like \"trk 074 165\"")]
    Track {
        /// As typed.
        text: String,
    },
    /// A speed through air or water that reads as none.
    #[error("speed \"{text}\": write true airspeed, or speed through the water, like \"tas 160\"")]
    Air {
        /// As typed.
        text: String,
    },
    /// No position stands that the reckoning could be restarted from.
    #[error("nothing to accept: no fix stands")]
    NothingToAccept,
    /// No wind or stream was found that could be used.
    #[error(
        "no drift is on offer: one is found when a fix is accepted some minutes after the last"
    )]
    NoDrift,
    /// A command that wants the label of a contact.
    #[error("{word} wants a contact, like \"{word} A{rest}\"")]
    NoLabel {
        /// The command.
        word: &'static str,
        /// What would follow.
        rest: &'static str,
    },
    /// A label that names no contact of this watch.
    #[error("no contact {label}: {known}")]
    UnknownContact {
        /// The label asked for.
        label: String,
        /// The labels there are, in words.
        known: String,
    },
    /// A label that is an outline's.
    #[error("{label} is an outline of the sightings: give the contact another letter")]
    Outline {
        /// As typed.
        label: String,
    },
    /// A label that a contact of an accepted fix has.
    #[error(
        "{label} is in a fix that was accepted: give the contact another letter, or again {label}, a later sight"
    )]
    DoneWith {
        /// As typed.
        label: String,
    },
    /// A mark that the chart has not.
    #[error("no mark \"{name}\" on this chart{near}")]
    UnknownMark {
        /// As typed.
        name: String,
        /// `: did you mean …?`, or nothing.
        near: String,
    },
    /// There is nothing to take back.
    #[error("nothing to undo")]
    NothingToUndo,
    /// Nothing was taken back.
    #[error("nothing to redo")]
    NothingToRedo,
    /// No reckoning is known, so that nothing can be placed.
    #[error("no reckoning yet: first \"dr 38 12.9 S, 21 30.5 W\", where you think you are")]
    NoReckoning,
    /// More contacts than one fix takes.
    #[error("{most} contacts are in already: delete one first")]
    Full {
        /// The most contacts taken.
        most: usize,
    },
    /// The values are entries, but cannot be: a bearing by compass with no deviation, say.
    #[error("{0}")]
    Refused(String),
}
