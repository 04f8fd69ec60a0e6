//! Places that only the contacts agree in.

use super::*;

#[test]
fn where_the_contacts_agree_beyond_the_reckoning_all_is_told_of_that_place() {
    let marks = coast();
    for names in [true, false] {
        let sights = (0..4).map(|m| seen((-12.0, 3.0), &marks, m, names.then_some(m))).collect();
        let fix = solve(&marks, sights, (2.0, -8.0), 2.5);
        assert_eq!(fix.verdict, Verdict::AtOdds, "{fix:#?}");
        assert!(off(fix.contacts_only.unwrap().position, -12.0, 3.0) < 0.3, "{fix:#?}");
        // Read without error: nothing is left over there, and no contact is left out.
        assert_eq!(fix.identities.len(), 4, "{fix:#?}");
        assert!(fix.unmatched.is_empty(), "{:?}", fix.unmatched);
        assert!(fix.consistency.unwrap().chi2 < 0.1, "{:?}", fix.consistency);
        let (bias, _) = fix.bearing_bias.unwrap();
        assert!(bias.degrees().abs() < 0.1, "{bias:?}");
        assert!(!fix.cautions.iter().any(|c| c.contains("do not bear out")), "{:?}", fix.cautions);
    }
}
