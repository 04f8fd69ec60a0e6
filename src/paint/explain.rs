use super::budget::{Budget, Cell, Light, SHOWS};
use super::cautions::cautions;
use super::expect::{By, Seen, all_round};
use super::expectation::ExpectedMark;
use super::fan::Fan;
use super::heights::heights_of;
use super::kind::{HILL, Kind, LAND};
use super::mark_echo::{level_m2, own_m2};
use super::mask::{EdgeKind, Mask};
use super::relief::{LandSpan, Relief};
use super::sweep::Sweep;
use super::vantage::{Conditions, Vantage};
use crate::chart::{Chart, GroundHeight, Mark, MarkId, MarkKind};
use crate::geodesy::course;
use crate::radar::{NOISE_POWER_DBW_PER_HZ, Set, knife_edge_loss_db, terrain_gamma_db};
use crate::units::{Bearing, GroundRange, Height, METRES_PER_NAUTICAL_MILE, SlantRange, True};

/// The whole budget of one mark, in the order in which it would be checked by hand.
#[derive(Debug, Clone, PartialEq)]
pub struct Explanation {
    /// The very row that [`super::expect`] gives.
    pub seen: ExpectedMark,
    /// The ground that stands for it, as [`heights_of`] has it.
    pub ground: GroundHeight,
    /// How far the sea is in sight from the antenna, and from the top of the mark.
    pub horizons: (GroundRange, GroundRange),
    /// The place seen steepest before the mark; `None` where nothing lies before it.
    pub hides: Option<Hides>,
    /// How much of the mark's height stands in plain sight, from the top down.
    pub in_sight: Height,
    /// What answers for it; `None` where nothing does.
    pub answered_by: Option<AnsweredBy>,
    /// Decibels that add up to its signal over noise; none where nothing answers.
    pub terms: Vec<Term>,
    /// The sea in the same cell; `None` where none returns.
    pub sea: Option<ClutterHeard>,
    /// The rain in the same cell, and what it takes beside the sea; `None` where none falls there.
    pub rain: Option<ClutterHeard>,
    /// Pulses added up on one look, and what that is worth in decibels at even chances.
    pub integration: (u32, f64),
    /// Signal over noise that shows at even chances, pulses added up, decibels.
    pub even_db: f64,
    /// How far the strongest cell stands over that, the sea taken off; `None` where nothing answers.
    pub margin_db: Option<f64>,
    /// What an operator must know of these figures, as of all that `expect` gives.
    pub cautions: Vec<String>,
}

/// The edge that hides a mark, or lies nearest to hiding it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hides {
    /// The sea's own horizon; else ground.
    pub sea: bool,
    /// Where.
    pub at: GroundRange,
    /// Above the sea.
    pub height: Height,
    /// Metres by which it stands over the straight line from the antenna to the mark's top;
    /// negative where it clears.
    pub over_line_m: f64,
    /// The parameter of the knife edge for the top (ITU-R P.526).
    pub v: f64,
    /// What that edge takes from a ray to the top, one way, in decibels: a knife edge of ground, a
    /// smooth sea past its horizon.
    pub loss_db: f64,
}

/// What answers for a mark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AnsweredBy {
    /// The ground about it; else the mark itself.
    pub ground: bool,
    /// Its strongest cell.
    pub at: GroundRange,
    /// Cells that may show, each by itself.
    pub cells: usize,
    /// What most of that ground is taken as, and why; `None` of the mark itself.
    pub kind: Option<Kind>,
}

/// One line of the budget.
#[derive(Debug, Clone, PartialEq)]
pub struct Term {
    /// What it is, for scripts too: lower case with hyphens.
    pub name: &'static str,
    /// What it adds.
    pub db: f64,
    /// The figures it comes from.
    pub from: String,
}

/// The sea, or the rain, in the mark's cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClutterHeard {
    /// Its cross-section.
    pub m2: f64,
    /// Over the noise of one pulse.
    pub over_noise_db: f64,
    /// What it takes from the mark's standing over the noise.
    pub takes_db: f64,
}

/// Why a mark shows, or does not: what [`super::expect`] reckons for it, step by step.
///
/// - `reach`: as asked of `expect`; `None` for a mark beyond it, or none of this chart's.
pub fn explain(
    chart: &Chart,
    vantage: &Vantage,
    set: &Set,
    conditions: &Conditions,
    reach: GroundRange,
    mark: MarkId,
) -> Option<Explanation> {
    let budget = Budget::new(set, conditions, vantage.height);
    let fan = all_round(chart, &budget, reach);
    let relief = Relief::of_chart(chart, vantage.position, &fan);
    let bearing = course(vantage.position, chart.marks().get(mark)?.position).initial;
    let lights = OTHER_LIGHTS.map(|light| budget.lit(light));
    let sweep = Sweep::towards(fan.clone(), &relief, &budget, bearing);
    let others = lights.each_ref().map(|lit| Sweep::towards(fan.clone(), &relief, lit, bearing));
    let seen = Seen { chart, vantage, sweep: &sweep };
    Explainer { seen, others: others.each_ref() }.explain(mark, reach)
}

/// How ground is lit for the terms of a budget, beside as it is.
const OTHER_LIGHTS: [Light; 4] = [Light::Sharp, Light::Open, Light::Level, Light::Bare];

/// One sweep as it is, and those with ground lit otherwise.
struct Explainer<'a> {
    seen: Seen<'a>,
    /// By [`OTHER_LIGHTS`].
    others: [&'a Sweep<'a>; 4],
}

impl Explainer<'_> {
    fn explain(&self, id: MarkId, reach: GroundRange) -> Option<Explanation> {
        let Seen { chart, vantage, sweep } = self.seen;
        let (mark, budget) = (chart.marks().get(id)?, sweep.budget);
        let line = course(vantage.position, mark.position);
        if line.distance > reach {
            return None;
        }
        let ray = Fan::towards(vec![line.initial.radians()], sweep.fan.step_m, sweep.fan.reach_m());
        let relief = Relief::of_chart(chart, vantage.position, &ray);
        let spans: &[LandSpan] = relief.rays.first()?;
        let along_m = line.distance.metres();
        let seen = self.seen.mark(id, mark, line.distance, line.initial, spans);
        let answer = self.seen.answer(mark, along_m, line.initial, spans);
        let height_m = mark.height.metres().max(1.0);
        let earth = budget.conditions().earth;
        let ground = heights_of(chart, vantage.position, &seen)?;
        let in_sight = answer.mask.visible_m(along_m, height_m).clamp(0.0, height_m);
        let terms = answer.by.map(|(by, _)| self.terms(mark, by, &seen, &answer.mask));
        let (sea, rain) = answer.by.map_or((None, None), |(_, cell)| clutter(budget, cell));
        let even_db = budget.detector().level_for(SHOWS);
        let level = answer
            .heard
            .zip(answer.by)
            .map(|(heard, (_, cell))| heard.signal_to_noise_db - budget.clutter_loss_db(cell));
        Some(Explanation {
            seen,
            ground,
            horizons: (earth.horizon_of(vantage.height), earth.horizon_of(answer.top)),
            hides: hides(&answer.mask, budget, (along_m, height_m)),
            in_sight: Height::from_metres(in_sight).unwrap_or_default(),
            answered_by: answer.by.map(|(by, _)| self.answered_by(by, seen.bearing)),
            terms: terms.unwrap_or_default(),
            sea,
            rain,
            integration: (budget.set().pulses_on_target(), budget.detector().integration_gain_db()),
            even_db,
            margin_db: level.map(|level| level - even_db),
            cautions: cautions(chart, vantage, budget.set(), budget.conditions(), reach),
        })
    }

    fn answered_by(&self, by: By, bearing: Bearing<True>) -> AnsweredBy {
        let at = |sample| GroundRange::clamped_metres(self.seen.sweep.fan.distance_m(sample));
        match by {
            By::Ground(strong, cells) => AnsweredBy {
                ground: true,
                at: at(strong.sample),
                cells,
                kind: self.kind_of(strong.sample, bearing),
            },
            By::Itself(sample) => {
                AnsweredBy { ground: false, at: at(sample), cells: 1, kind: None }
            }
        }
    }

    fn terms(&self, mark: &Mark, by: By, seen: &ExpectedMark, mask: &Mask<'_>) -> Vec<Term> {
        let sample = match by {
            By::Ground(strong, _) => strong.sample,
            By::Itself(sample) => sample,
        };
        let sweep = self.seen.sweep;
        let ground_m = sweep.fan.distance_m(sample);
        let (answer, rise_db) = match by {
            By::Ground(strong, _) => self.of_ground(strong.sample, strong.m2, seen),
            By::Itself(_) => of_itself(mark, seen, mask, sweep.budget),
        };
        let mut terms = of_set_and_way(sweep.budget, ground_m, rise_db);
        let bow_db = self.seen.bow_loss_db(seen.bearing);
        let bow = if sweep.budget.set().lobes.is_some() {
            "of the sending beam and the better lobe, toward the mark"
        } else {
            "a turning beam looks everywhere"
        };
        terms.push(term("off-bow", -bow_db, bow.to_owned()));
        terms.extend(answer);
        terms
    }

    fn kind_of(&self, sample: usize, bearing: Bearing<True>) -> Option<Kind> {
        let sweep = self.seen.sweep;
        sweep.kind_of(sweep.fan.nearest(bearing), sample)
    }

    /// Area, γ, and what shadow leaves of them; and what the upright beam has for its height over the sea
    /// below it, decibels.
    fn of_ground(&self, sample: usize, m2: f64, seen: &ExpectedMark) -> (Vec<Term>, f64) {
        let at = |sweep: &Sweep| {
            let look = sweep.look(sweep.fan.nearest(seen.bearing));
            look.m2.get(sample).map_or(0.0, |m2| f64::from(*m2))
        };
        let [sharp, open, level, bare] = self.others.map(at);
        let area = format!("{bare:.0} m2 across the line of sight, in one pulse and beam");
        let kind = self.kind_of(sample, seen.bearing);
        let gamma =
            kind.map_or_else(String::new, |kind| format!("mean over the cell, most {kind}"));
        let mut terms =
            vec![term("area", decibels(bare), area), term("gamma", decibels(level / bare), gamma)];
        terms.extend(shadow(open, sharp, m2));
        (terms, decibels(open / level))
    }
}

/// The edge seen steepest before a mark so far off and so high, metres.
fn hides(mask: &Mask<'_>, budget: &Budget, (along_m, height_m): (f64, f64)) -> Option<Hides> {
    let (edge, over_line_m, v) = mask.over_line(along_m, height_m)?;
    let loss_db = match edge.kind {
        EdgeKind::Sea if over_line_m > 0.0 => {
            budget.smooth_sea().loss_db(along_m, height_m).max(knife_edge_loss_db(v))
        }
        EdgeKind::Sea => 0.0,
        EdgeKind::Land => knife_edge_loss_db(v),
    };
    Some(Hides {
        sea: edge.kind == EdgeKind::Sea,
        at: GroundRange::clamped_metres(edge.ground_m),
        height: Height::from_metres(edge.height_m).unwrap_or_default(),
        over_line_m,
        v,
        loss_db,
    })
}

/// What sea and rain of a cell return, and what each takes.
fn clutter(budget: &Budget, cell: Cell) -> (Option<ClutterHeard>, Option<ClutterHeard>) {
    let by_sea = budget.sea_loss_db(cell);
    let heard = |m2: f64, takes_db: f64| {
        let over_noise_db = cell.base_db + decibels(m2);
        (m2 > 0.0).then_some(ClutterHeard { m2, over_noise_db, takes_db })
    };
    let by_rain = budget.clutter_loss_db(cell) - by_sea;
    (heard(cell.sea_m2, by_sea), heard(cell.rain_m2, by_rain))
}

/// Power, beam, way and noise: the range equation for one square metre.
///
/// - `rise_db`: what the upright beam has more towards what answers than towards the sea below it.
fn of_set_and_way(budget: &Budget, ground_m: f64, rise_db: f64) -> Vec<Term> {
    let (set, slant) = (budget.set(), budget.slant(ground_m, Height::SEA_LEVEL));
    let spread = 4.0 * std::f64::consts::PI;
    let free = 2.0 * decibels(budget.wavelength_m())
        - 3.0 * decibels(spread)
        - 4.0 * decibels(slant.metres().max(1.0));
    let noise = NOISE_POWER_DBW_PER_HZ + decibels(set.bandwidth_hz());
    let (air, rain) = budget.way_db(slant);
    let down = budget.down(ground_m, 0.0);
    let miles = slant.nautical_miles();
    vec![
        term(
            "power",
            decibels(set.peak_power_kw * 1e3),
            format!("{} kW in the pulse, over a watt", set.peak_power_kw),
        ),
        term(
            "antenna",
            2.0 * set.antenna_gain_dbi,
            format!("{} dBi, sending and receiving", set.antenna_gain_dbi),
        ),
        term(
            "elevation",
            rise_db - set.elevation_loss_db(down),
            format!(
                "the sea there {:.2} deg under the axis, {rise_db:+.2} dB for its height, beam {} deg{}",
                down.degrees(),
                set.elevation_beam_deg,
                set.cosecant_to_deg.map_or(String::new(), |to| format!(", cosecant to {to} deg"))
            ),
        ),
        term(
            "free-space",
            free,
            format!("there and back over {miles:.2} NM, wave {:.4} m", budget.wavelength_m()),
        ),
        term("air", -air, format!("there and back over {miles:.2} NM")),
        term("rain", -rain, rain_from(budget, slant)),
        term(
            "noise",
            -noise,
            format!("290 K in {:.2} MHz, under a watt", set.bandwidth_hz() / 1e6),
        ),
        term("noise-figure", -set.noise_figure_db, "of the receiver".to_owned()),
        term("losses", -set.losses_db, "of the set itself".to_owned()),
    ]
}

/// The mark's own cross-section, and what shadow leaves of it; and what the upright beam has for its height
/// over the sea below it, decibels.
fn of_itself(
    mark: &Mark,
    seen: &ExpectedMark,
    mask: &Mask<'_>,
    budget: &Budget,
) -> (Vec<Term>, f64) {
    let (along_m, height_m) = (seen.ground_range.metres(), mark.height.metres().max(1.0));
    let of = |shown_m: f64| own_m2(mark, shown_m, along_m, budget);
    let (open, sharp) = (of(height_m), of(mask.visible_m(along_m, height_m).min(height_m)));
    let bent = of(mask.standing(along_m, height_m).shown_m);
    let times_face = |class| format!("gamma {} dB times its face", terrain_gamma_db(class));
    let how = match mark.kind {
        MarkKind::Headland | MarkKind::Islet => times_face(HILL),
        MarkKind::Peak => times_face(LAND),
        _ => "typical of its kind".to_owned(),
    };
    let level = level_m2(mark, height_m, along_m, budget);
    let from = format!("the {} itself, {level:.1} m2 if all is seen: {how}", mark.kind.as_str());
    let mut terms = vec![term("cross-section", decibels(level), from)];
    terms.extend(shadow(open, sharp, bent));
    (terms, decibels(open / level))
}

/// What shadow leaves, by rays, and what bending over the edge makes of that.
fn shadow(open: f64, sharp: f64, bent: f64) -> [Term; 2] {
    let by_rays = if sharp > 0.0 { decibels(sharp / open) } else { 0.0 };
    let (how, bends) = if sharp <= 0.0 {
        ("all of it is in shadow", "what bends over the edge on to it")
    } else if sharp < 0.9995 * open {
        ("part of it is in shadow", "at the edge of the shadow")
    } else {
        ("none of it is in shadow", "at the edge of the shadow")
    };
    [
        term("shadow", by_rays, how.to_owned()),
        term("diffraction", decibels(bent / open) - by_rays, bends.to_owned()),
    ]
}

/// How much of the way lies in the rain.
fn rain_from(budget: &Budget, slant: SlantRange) -> String {
    let rain = budget.conditions().rain;
    let miles = rain.on_the_way_m(budget.own(), slant) / METRES_PER_NAUTICAL_MILE;
    format!("{} mm/h over {miles:.2} NM of the way, each way", rain.mm_h)
}

fn term(name: &'static str, db: f64, from: String) -> Term {
    // No "-0".
    Term { name, db: db + 0.0, from }
}

fn decibels(ratio: f64) -> f64 {
    10.0 * ratio.log10()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::radar::Rain;

    fn adds_up(set: &str, at: &str, feet: f64, heading: Option<f64>) {
        let chart = Chart::sample().unwrap();
        let set = Set::builtin(set).unwrap();
        let vantage = Vantage {
            position: at.parse().unwrap(),
            height: Height::from_feet(feet).unwrap(),
            heading: heading.map(crate::units::Bearing::wrapped_degrees),
        };
        let conditions =
            Conditions { sea_state: 3, rain: Rain::everywhere(2.0), ..Conditions::default() };
        let reach = GroundRange::from_nautical_miles(60.0).unwrap();
        let expected = super::super::expect(&chart, &vantage, &set, &conditions, reach, 10.0);
        let budget = Budget::new(&set, &conditions, vantage.height);
        let fan = all_round(&chart, &budget, reach);
        let relief = Relief::of_chart(&chart, vantage.position, &fan);
        let lights = OTHER_LIGHTS.map(|light| budget.lit(light));
        let sweep = Sweep::new(fan.clone(), &relief, &budget);
        let others = lights.each_ref().map(|lit| Sweep::new(fan.clone(), &relief, lit));
        let seen = Seen { chart: &chart, vantage: &vantage, sweep: &sweep };
        let explainer = Explainer { seen, others: others.each_ref() };
        assert!(expected.marks.len() > 20, "{}", expected.marks.len());
        for (i, row) in expected.marks.iter().enumerate() {
            let found = explainer.explain(row.mark, reach).unwrap();
            let name = &chart.marks().get(row.mark).unwrap().name;
            assert_eq!(found.seen, *row, "{name}");
            assert_eq!(found.cautions, expected.cautions);
            let sum: f64 = found.terms.iter().map(|term| term.db).sum();
            if let Some(db) = row.signal_to_noise_db {
                assert!((sum - db).abs() < 1e-5, "{name}: {sum} {db} {:?}", found.terms);
                let takes = |heard: Option<ClutterHeard>| heard.map_or(0.0, |heard| heard.takes_db);
                let level = sum - takes(found.sea) - takes(found.rain);
                if found.answered_by.unwrap().cells == 1 {
                    let chance = budget.detector().chance(level);
                    assert!((chance - row.paint_probability).abs() < 1e-3, "{name}");
                }
                assert!((level - found.even_db - found.margin_db.unwrap()).abs() < 1e-5);
            }
            // One in ten by the door that users take: the same.
            if i % 10 == 0 {
                let alone = explain(&chart, &vantage, &set, &conditions, reach, row.mark);
                assert_eq!(alone.unwrap(), found, "{name}");
            }
        }
    }

    #[test]
    fn the_terms_add_up_to_what_expect_gives_for_every_mark_from_three_places() {
        adds_up("patrol", "38 12.9 S, 21 30.5 W", 2_000.0, None);
        adds_up("metric", "38 25 S, 21 05 W", 3_000.0, Some(40.0));
        adds_up("boat", "38 00 S, 21 05 W", 50.0, None);
    }
}
