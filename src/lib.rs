//! Radar landfall: which coast should paint, which headland an echo is, and the position it fixes.
//!
//! The person this is for has been hours over water, on a reckoning no longer quite trusted, and
//! sees the first echoes of a coast. The modules are that person's questions, in the order in which
//! they are asked; each uses only those before it.
//!
//! | module | its question |
//! | --- | --- |
//! | [`text`], [`units`], [`geodesy`] | in what terms, and where on the Earth? |
//! | [`chart`] | what is there: coast, ground, marks? |
//! | [`radar`] | what can the set do? |
//! | [`paint`] | what should show from here? |
//! | [`contact`] | what was measured, and how well? |
//! | [`identity`] | which mark is which echo? |
//! | [`fix`] | where does that put us, and how far is it to be believed? |
//! | [`reckon`] | where did we think we were, and how fast does that decay? |
//! | [`watch`] | what was entered, and is it kept? |
//! | [`drill`] | could I read this coast? |
//! | [`campaign`] | would this plan be read, and how often wrongly? |
//! | [`debrief`] | where were we really, and when did we know it? |
//! | [`screen`], [`command`] | how is it shown? |
//!
//! # A landfall, from chart to log
//!
//! The sample coast is built in, and invented. Each step asks one module, and knows nothing of those
//! after it.
//!
//! **What is there?** A [`chart`] tells its marks by name or place, and how far any place is from the
//! shore.
//!
//! ```
//! use foreland::chart::Chart;
//! use foreland::geodesy::{Position, destination, distance};
//! use foreland::units::GroundRange;
//!
//! let chart = Chart::sample()?;
//! let head = chart.marks().find("gannet head").and_then(|id| chart.marks().get(id));
//! let head = head.ok_or("charted")?;
//! assert_eq!((head.name.as_str(), head.kind.as_str()), ("Gannet Head", "headland"));
//!
//! let out_at_sea: Position = "38 12.9 S, 21 30.5 W".parse()?;
//! let within = GroundRange::from_nautical_miles(40.0)?;
//! let (off, towards) = chart.coast().nearest(out_at_sea, within).ok_or("a shore")?;
//! assert!(off < distance(out_at_sea, head.position), "nearer than any headland of it");
//! // There, the shore is under the keel.
//! let ashore = destination(out_at_sea, towards, off);
//! assert!(chart.coast().nearest(ashore, within).ok_or("a shore")?.0.nautical_miles() < 0.01);
//! assert_eq!(chart.ground().is_land(out_at_sea), Some(false));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! **What can the set do?** [`radar`] knows no chart: only heights, the air, and a [`radar::Set`]'s
//! figures.
//!
//! ```
//! use foreland::radar::{EffectiveEarth, Set};
//! use foreland::units::Height;
//!
//! // The rule of thumb of the handbooks, 1.23 · √feet, gives 55.0 NM of sea from 2,000 ft.
//! let (earth, own) = (EffectiveEarth::standard(), Height::from_feet(2_000.0)?);
//! assert!((earth.horizon_of(own).nautical_miles() - 55.0).abs() < 0.01 * 55.0);
//! // A cliff of 300 ft is seen farther off than the sea before it.
//! assert!(earth.horizon(own, Height::from_feet(300.0)?) > earth.horizon_of(own));
//!
//! let set = Set::builtin("patrol").ok_or("built in")?;
//! assert!(set.blind_range() < set.greatest_scale());
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! **What should show from here?** [`paint::expect()`] takes the whole horizon; [`paint::explain()`] tells
//! one mark's budget, line by line.
//!
//! ```
//! use foreland::chart::Chart;
//! use foreland::paint::{Conditions, Outcome, Vantage, explain};
//! use foreland::radar::Set;
//! use foreland::units::{GroundRange, Height};
//!
//! let chart = Chart::sample()?;
//! let set = Set::builtin("patrol").ok_or("built in")?;
//! let position = "38 12.9 S, 21 30.5 W".parse()?;
//! let vantage = Vantage { position, height: Height::from_feet(2_000.0)?, heading: None };
//! let reach = GroundRange::from_nautical_miles(40.0)?;
//! let head = chart.marks().find("Gannet Head").ok_or("charted")?;
//!
//! let told = explain(&chart, &vantage, &set, &Conditions::default(), reach, head).ok_or("in reach")?;
//! assert_eq!(told.seen.outcome, Outcome::Paints);
//! // The terms are what its signal over noise is made of.
//! let sum: f64 = told.terms.iter().map(|term| term.db).sum();
//! assert!((sum - told.seen.signal_to_noise_db.ok_or("an echo")?).abs() < 0.01);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! **What was measured?** A [`contact`] is a range and a bearing, each with its error: [`contact::plot()`]
//! lays it off, [`contact::measure`] says what it should have read.
//!
//! ```
//! use foreland::contact::{measure::predicted, plot};
//! use foreland::geodesy::{LocalPlane, PlanePoint};
//! use foreland::units::{Angle, Bearing, GroundRange, Height, SlantRange, True};
//!
//! let own = Height::from_feet(2_000.0)?;
//! let range = SlantRange::from_nautical_miles(22.1)?;
//! let bearing = Bearing::<True>::from_degrees(47.8)?;
//! let errors = (GroundRange::from_nautical_miles(0.2)?, Angle::from_degrees(1.0));
//! let (there, error) = plot((range, errors.0), (bearing, errors.1), own);
//! // A degree at 22 miles is twice the range's own error: the echo's ellipse lies across the line.
//! assert!(error.sigma_towards(bearing.turned(Angle::from_degrees(90.0)))
//!     > 1.5 * error.sigma_towards(bearing));
//!
//! // An echo from the sea there would read the same again, to the curve of the Earth.
//! let plane = LocalPlane::new("38 12.9 S, 21 30.5 W".parse()?);
//! let told = predicted(&plane, PlanePoint::default(), own, there, Height::SEA_LEVEL);
//! assert!((told.range.nautical_miles() - 22.1).abs() < 0.05);
//! assert!(told.bearing.minus(bearing).degrees().abs() < 0.01);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! **Which mark is it, and where does that put us?** [`identity`] weighs every charted mark for every
//! echo, [`fix`] tells what is left: a position and its ellipse, or why there is none. The operator
//! thinks that one echo is Gannet Head; that is a belief, and weighed.
//!
//! ```
//! use std::path::Path;
//!
//! use foreland::chart::Chart;
//! use foreland::contact::Sightings;
//! use foreland::fix::{self, Options, Verdict};
//!
//! let chart = Chart::sample()?;
//! let sightings = Sightings::parse(
//!     r#"
//!     [reckoning]
//!     time = "2031-03-09T03:40:00Z"
//!     position = "38 12.9 S, 21 30.5 W"
//!     sigma_nm = 4.0
//!     [own]
//!     height_ft = 2000
//!     [radar]
//!     set = "patrol"
//!     [[contact]]
//!     label = "A"
//!     range_nm = 22.1
//!     bearing_deg = 47.8
//!     mark = "Gannet Head"
//!     [[contact]]
//!     label = "B"
//!     range_nm = 12.5
//!     bearing_deg = 99.6
//!     part = "centre"
//!     mark = "Little Ember"
//!     "#,
//!     "evening.toml",
//!     Path::new(""),
//! )?;
//! sightings.check_marks(&chart)?;
//!
//! let answer = fix::fix(&chart, &sightings, &Options::default());
//!
//! assert_eq!(answer.verdict, Verdict::Fixed);
//! let ellipse = answer.ellipse.ok_or("a fix has its ellipse")?;
//! assert!(ellipse.semi_major.nautical_miles() < 1.0);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! A set of contacts that two places explain has the verdict `Ambiguous` and both places; one that
//! none explains, `AtOdds`. No position is stated that the program does not stand behind.
//!
//! **And until the next one?** [`reckon`] carries the position on by legs and wind, and its error grows
//! on the way.
//!
//! ```
//! use foreland::reckon::{Legs, reckon};
//!
//! let legs = Legs::parse(
//!     r#"
//!     [start]
//!     time = "2031-03-09T03:42:00Z"
//!     position = "38 15.2 S, 21 24.2 W"
//!     sigma_nm = 0.4
//!     [[leg]]
//!     heading_deg = 74
//!     tas_kn = 165
//!     minutes = 20
//!     wind = { from_deg = 240, speed_kn = 25 }
//!     "#,
//!     "on.toml",
//! )?;
//! // A position each five minutes, and at the end of the leg.
//! let found = reckon(&legs, Some(300.0));
//! let errors: Vec<f64> = found.passed.iter().map(|at| at.covariance.axes().0.sqrt()).collect();
//! assert_eq!(errors.len(), 5);
//! assert!(errors.windows(2).all(|pair| pair[0] < pair[1]), "it never gets better by itself");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! **Is it kept?** A [`watch`] is one sitting: what is typed becomes a record of its log, and the log
//! alone brings the sitting back, whatever cut it short.
//!
//! ```
//! use std::path::Path;
//!
//! use foreland::chart::Chart;
//! use foreland::contact::Sightings;
//! use foreland::watch::entry::understood;
//! use foreland::watch::log::{FIRST_LINE, Record, replay};
//! use foreland::watch::{Watch, resume, start_record};
//!
//! let chart = Chart::sample()?;
//! let text = "
//!     [reckoning]
//!     time = \"2031-03-09T03:40:00Z\"
//!     position = \"38 12.9 S, 21 30.5 W\"
//!     sigma_nm = 4.0
//!     [own]
//!     height_ft = 2000
//!     [radar]
//!     set = \"patrol\"
//! ";
//! let sightings = Sightings::parse(text, "evening", Path::new(""))?;
//! let mut watch = Watch::from_sightings(&sightings);
//! let time: jiff::Timestamp = "2031-03-09T03:41:00Z".parse()?;
//! let typed = watch.change(&understood("22.1 047.8")?, time, chart.marks())?;
//! watch.apply(&typed)?;
//!
//! let mut log = FIRST_LINE.to_owned();
//! for (number, what) in (1..).zip([start_record("evening", text, &sightings), typed]) {
//!     let record = Record { number, time, what, typed: None };
//!     log += &format!("{}\n", record.to_line().ok_or("a line")?);
//! }
//! log += "5f0c3a17 3 2031-03-09T03:4"; // and here the power went
//!
//! let left = replay(log.as_bytes(), Path::new("evening.log"))?;
//! let taken_up = resume(&left.records, &Watch::from_sightings(&sightings));
//! assert_eq!(taken_up.watch.ok_or("a sitting")?.contacts(), watch.contacts());
//! assert_eq!(left.notices.len(), 1, "what was torn is told");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! Then there is training ([`drill`]), a plan tried beforehand ([`campaign`]), what came of the sortie
//! ([`debrief`]), and how all of it is shown ([`screen`], [`command`]).
//!
//! # What the types do not catch
//!
//! A contact on the wrong headland, a name given with too much confidence, an error stated too
//! small: these are weighed, never excluded, and every figure of uncertainty rests on them.
//!
//! An aid only, never the sole means of navigation: official charts, local rules, licensed crew
//! and published safety altitudes rule.

pub mod campaign;
pub mod chart;
pub mod command;
pub mod contact;
pub mod debrief;
pub mod drill;
pub mod fix;
pub mod geodesy;
pub mod identity;
pub mod paint;
pub mod radar;
pub mod reckon;
pub mod screen;
pub mod text;
pub mod units;
pub mod watch;

/// The documents that go with the program, as they stand in its `docs` folder.
#[cfg(doc)]
pub mod documents {
    #[doc = include_str!("../docs/tutorial.md")]
    pub mod tutorial {}
    #[doc = include_str!("../docs/how-to/read-an-answer.md")]
    pub mod read_an_answer {}
    #[doc = include_str!("../docs/how-to/plan-a-landfall.md")]
    pub mod plan_a_landfall {}
    #[doc = include_str!("../docs/how-to/keep-a-reckoning.md")]
    pub mod keep_a_reckoning {}
    #[doc = include_str!("../docs/explanation/reckoning.md")]
    pub mod reckoning {}
    #[doc = include_str!("../docs/how-to/debrief-a-sortie.md")]
    pub mod debrief_a_sortie {}
    #[doc = include_str!("../docs/explanation/debrief.md")]
    pub mod debrief {}
    #[doc = include_str!("../docs/explanation/identification-and-fix.md")]
    pub mod identification_and_fix {}
    #[doc = include_str!("../docs/explanation/outlines.md")]
    pub mod outlines {}
    #[doc = include_str!("../docs/explanation/two-lobes.md")]
    pub mod two_lobes {}
    #[doc = include_str!("../docs/explanation/paint.md")]
    pub mod paint {}
    #[doc = include_str!("../docs/explanation/marks.md")]
    pub mod marks {}
    #[doc = include_str!("../docs/explanation/display.md")]
    pub mod display {}
}
