use super::ways::{Cause, Ways};
use crate::fix::case::Case;

/// Why no radius under `limit` metres can be assured, in plain words: what most stands in the way.
///
/// `rivals` is the posterior of all places but the stated one.
pub(super) fn why(case: &Case<'_>, ways: &Ways, rivals: f64, limit: f64) -> String {
    let sum = |of: &dyn Fn(Cause) -> bool| -> (f64, f64) {
        let mine = ways.list().iter().filter(|way| of(way.cause));
        mine.fold((0.0, 0.0), |(beyond, chance), way| {
            (beyond + way.beyond(limit), chance + way.chance)
        })
    };
    let elsewhere = sum(&|cause| cause == Cause::Elsewhere);
    let none = sum(&|cause| cause == Cause::NoneListed);
    let several = sum(&|cause| cause == Cause::Several);
    let reckoning = sum(&|cause| cause == Cause::Reckoning);
    let errors = sum(&|cause| cause == Cause::Errors);
    let one = sum(&|cause| matches!(cause, Cause::One(_)));
    let reasons = [
        (one.0, unchecked(case, ways, limit)),
        (
            several.0 + ways.left_out(),
            format!(
                "several contacts wrong at once have {} and would not show",
                percent(several.1 + ways.left_out())
            ),
        ),
        (elsewhere.0, format!("rival places hold {}", percent(rivals))),
        (none.0, format!("places not listed hold {}", percent(none.1))),
        (
            reckoning.0,
            format!(
                "the contacts alone hold too little, and a reckoning is false in {}",
                percent(super::RECKONING_FAULT)
            ),
        ),
        (errors.0, "the errors stated are too large".to_owned()),
    ];
    let worst = reasons.into_iter().max_by(|a, b| a.0.total_cmp(&b.0));
    worst.map_or_else(String::new, |(_, words)| words)
}

/// One contact wrong: which it is that no other checks.
fn unchecked(case: &Case<'_>, ways: &Ways, limit: f64) -> String {
    let alone = |cause| matches!(cause, Cause::One(_));
    let mut singles: Vec<(usize, f64)> = Vec::new();
    for way in ways.list().iter().filter(|way| alone(way.cause)) {
        let Cause::One(sight) = way.cause else { continue };
        match singles.iter_mut().find(|(known, _)| *known == sight) {
            Some((_, beyond)) => *beyond += way.beyond(limit),
            None => singles.push((sight, way.beyond(limit))),
        }
    }
    singles.sort_by(|a, b| b.1.total_cmp(&a.1));
    match singles.as_slice() {
        [(sight, worst), (_, next), ..] if *next < 0.5 * worst => {
            format!("no other contact checks {}", case.label(*sight))
        }
        _ => "the contacts carry no check on each other".to_owned(),
    }
}

/// A small chance, to two figures.
fn percent(chance: f64) -> String {
    let hundredths = 100.0 * chance;
    if !(hundredths > 0.0 && hundredths.is_finite()) {
        return "0 %".to_owned();
    }
    let places = (1.0 - hundredths.log10().floor()).clamp(0.0, 6.0);
    format!("{hundredths:.0$} %", places as usize)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_chances_keep_two_figures() {
        for (chance, words) in
            [(0.123, "12 %"), (0.0123, "1.2 %"), (0.000_5, "0.050 %"), (2e-5, "0.0020 %")]
        {
            assert_eq!(percent(chance), words);
        }
        assert_eq!(percent(0.0), "0 %");
    }
}
