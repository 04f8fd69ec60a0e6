//! Names that several contacts bear, and places that only they agree in.

use super::*;

/// Near, left and right of one echo dead ahead of the middle between two marks alike, all called the first.
fn misnamed_parts() -> Vec<Sight> {
    let part = |range: f64, part: Part| Sight { part, ..contact(range, 340.0, Some(0)) };
    vec![part(18.0, Part::Near), part(-1.0, Part::Left), part(-1.0, Part::Right)]
}

#[test]
fn parts_of_one_echo_are_one_witness_for_its_name() {
    // 18 NM off on 330° and on 350°: from either side of the reckoning each reads as well.
    let marks = vec![mark(-9.0, 15.588), mark(-3.126, 17.727)];
    // The name 0.95 and half of what is left, 0.975, of which three in a thousand are kept back: 0.972
    // (worked by hand), for one part as for three.
    for parts in 1..=3 {
        let sights: Vec<Sight> = misnamed_parts().into_iter().take(parts).collect();
        let fix = solve(&marks, sights, (0.0, 0.0), 4.0);
        assert_eq!(fix.verdict, Verdict::Fixed, "{fix:#?}");
        let probability = fix.probability.unwrap();
        assert!((probability - 0.972).abs() < 0.005, "{parts} parts: {probability}");
        let told = |words: &str| fix.cautions.iter().any(|caution| caution.starts_with(words));
        assert!(told("the fix rests on the names you gave"), "{:?}", fix.cautions);
        assert!(told("unchecked") || told("little checked"), "{:?}", fix.cautions);
    }
}

#[test]
fn contacts_that_agree_far_from_the_reckoning_are_at_odds_with_it_and_all_is_told_of_there() {
    let marks = coast();
    for names in [true, false] {
        let sights = (0..4).map(|m| seen((-12.0, 3.0), &marks, m, names.then_some(m))).collect();
        let fix = solve(&marks, sights, (2.0, -8.0), 2.5);
        assert_eq!(fix.verdict, Verdict::AtOdds, "{fix:#?}");
        assert!(off(fix.contacts_only.unwrap().position, -12.0, 3.0) < 0.3, "{fix:#?}");
        assert!(fix.cautions[0].contains("agree among themselves"), "{:?}", fix.cautions);
        // Read without error: nothing is left over there, and no contact is left out.
        assert_eq!(fix.identities.len(), 4, "{fix:#?}");
        assert!(fix.unmatched.is_empty(), "{:?}", fix.unmatched);
        assert!(fix.consistency.unwrap().chi2 < 0.1, "{:?}", fix.consistency);
        let (bias, _) = fix.bearing_bias.unwrap();
        assert!(bias.degrees().abs() < 0.1, "{bias:?}");
        assert!(!fix.cautions.iter().any(|c| c.contains("do not bear out")), "{:?}", fix.cautions);
    }
}

/// Three heads, and three like them 8 miles to the south, the first of these so far out of place in range.
fn stretches_alike(out_of_place: f64) -> Vec<Candidate> {
    let heads = [(-9.0, 12.0), (-3.0, 16.0), (4.0, 14.0)];
    let south = heads.map(|(east, north)| (east, north - 8.0));
    // As seen from 4 miles south of the reckoning.
    let line = course(at(0.0, -4.0), at(south[0].0, south[0].1));
    let (sin, cos) = line.initial.sin_cos();
    let first = (south[0].0 + out_of_place * sin, south[0].1 + out_of_place * cos);
    heads.into_iter().chain([first, south[1], south[2]]).map(|(e, n)| mark(e, n)).collect()
}

#[test]
fn names_of_one_mistake_are_no_three_witnesses() {
    let named = |marks: &[Candidate], names: [usize; 3]| {
        let sights = (3..6).zip(names);
        let sights = sights.map(|(head, name)| seen((0.0, -4.0), marks, head, Some(name)));
        solve(marks, sights.collect(), (0.0, 0.0), 4.0)
    };
    let told = |fix: &Fix, words: &str| fix.cautions.iter().any(|told| told.contains(words));
    // Half a mile of range is 3.3 of its deviations: the south is right, by more than twenty to one.
    let unlike = stretches_alike(0.5);
    let mistaken = named(&unlike, [0, 1, 2]);
    assert_eq!(mistaken.verdict, Verdict::AtOdds, "{mistaken:#?}");
    assert!(told(&mistaken, "one mistake in all the names"), "{:?}", mistaken.cautions);
    assert!(told(&mistaken, "the contacts would have us 7.9 NM 18"), "{:?}", mistaken.cautions);
    let right = named(&unlike, [3, 4, 5]);
    assert_eq!(right.verdict, Verdict::Fixed, "{right:#?}");
    assert!(right.probability.unwrap() > 0.995, "{:?}", right.probability);
    // Where nothing else tells, names carry the fix, and it is said: 0.98 and half of 0.02, less what is kept
    // back.
    let alike = stretches_alike(0.0);
    for names in [[0, 1, 2], [3, 4, 5]] {
        let fix = named(&alike, names);
        assert_eq!(fix.verdict, Verdict::Fixed, "{fix:#?}");
        assert!((fix.probability.unwrap() - 0.99).abs() < 0.003, "{:?}", fix.probability);
        assert!(told(&fix, "the fix rests on the names you gave"), "{:?}", fix.cautions);
        assert!(!fix.protection.assured, "{:?}", fix.protection);
    }
}
