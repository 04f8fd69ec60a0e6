use super::*;

fn says(line: &str) -> String {
    match read(line) {
        Ok(found) => match &found.label {
            Some(label) => format!("{label}: {found}"),
            None => found.to_string(),
        },
        Err(error) => format!("! {error}"),
    }
}

#[test]
fn the_ways_an_operator_says_a_contact() {
    for (line, meant) in [
        ("17.3 042", "17.3 NM, 042° true"),
        ("042/17.3", "17.3 NM, 042° true"),
        ("042m/17.3", "17.3 NM, 042° magnetic"),
        ("17.3 042m Gannet Head", "17.3 NM, 042° magnetic, Gannet Head"),
        ("Gannet Head 17.3 042", "17.3 NM, 042° true, Gannet Head"),
        ("17.3 042 Gannet Head?", "17.3 NM, 042° true, perhaps Gannet Head"),
        ("r17.3", "17.3 NM"),
        ("R17.3", "17.3 NM"),
        ("r 120", "120 NM"),
        ("120nm 042", "120 NM, 042° true"),
        ("17.3 nm 042", "17.3 NM, 042° true"),
        ("b 318 rel", "318° relative"),
        ("b042", "042° true"),
        ("b 42", "042° true"),
        ("42t 9", "9 NM, 042° true"),
        ("042.5 17.3", "17.3 NM, 042.5° true"),
        ("042°T 17.3", "17.3 NM, 042° true"),
        ("042 M 17.3", "17.3 NM, 042° magnetic"),
        ("318 r", "318° relative"),
        ("318t r 17.3", "17.3 NM, 318° true"),
        ("318 rng 17.3", "17.3 NM, 318° true"),
        ("17.3 318 r", "17.3 NM, 318° relative"),
        ("318r 17.3", "17.3 NM, 318° relative"),
        ("042c 17.3", "17.3 NM, 042° compass"),
        ("042g 17.3", "17.3 NM, 042° gyro"),
        ("A 17.4 042", "A: 17.4 NM, 042° true"),
        ("a 17.4", "A: 17.4 NM"),
        ("B 042", "B: 042° true"),
        ("b 318 rel left A", "A: 318° relative, left edge"),
        ("17.3 042 left", "17.3 NM, 042° true, left edge"),
        ("17.3 shore", "17.3 NM, nearest shore"),
        ("T12: 17.3 042", "T12: 17.3 NM, 042° true"),
        ("A left", "A: left edge"),
        ("A Gannet Head", "A: Gannet Head"),
        ("17.3 042 \"Left Rock\"", "17.3 NM, 042° true, Left Rock"),
        ("\"Left Rock\"? 17.3 042", "17.3 NM, 042° true, perhaps Left Rock"),
        ("17.3 042 Buoy 7", "17.3 NM, 042° true, Buoy 7"),
        ("17.3 042 North Shore", "17.3 NM, 042° true, North Shore"),
        ("9 360", "9 NM, 360° true"),
        ("30.5 d 3/2 A", "A: 30.5 NM, deflections 3/2"),
        ("d 3/2 30.5", "30.5 NM, deflections 3/2"),
        ("30.5 d3.5/2", "30.5 NM, deflections 3.5/2"),
        ("A 30.5 defl 3 / 2 Gannet Head", "A: 30.5 NM, deflections 3/2, Gannet Head"),
        ("A d 3/2", "A: deflections 3/2"),
        ("D d 3/2", "D: deflections 3/2"),
        ("d 17.4 042", "D: 17.4 NM, 042° true"),
        ("d 17.4/042", "D: 17.4 NM, 042° true"),
    ] {
        assert_eq!(says(line), meant, "{line}");
    }
}

#[test]
fn a_time_may_stand_anywhere() {
    let clock = |hour, minute, second| Some(When::Clock { hour, minute, second });
    assert_eq!(read("17.3 042 @0341").unwrap().when, clock(3, 41, 0));
    assert_eq!(read("@ 03:41:10 17.3 042").unwrap().when, clock(3, 41, 10));
    assert_eq!(read("17.3 042 -2m").unwrap().when, Some(When::Before(120)));
    let named = read("17.3 042 Gannet Head @0341").unwrap();
    assert_eq!((named.mark.as_deref(), named.when), (Some("Gannet Head"), clock(3, 41, 0)));
    let named = read("17.3 042 Gannet Head -90s").unwrap();
    assert_eq!(named.mark.as_deref(), Some("Gannet Head"));
}

#[test]
fn what_is_unclear_is_refused_with_the_mend() {
    for (line, told) in [
        ("17.3 42", "two ranges, 17.3 and 42"),
        ("17,3 042", "two ranges, 17 and 3"),
        ("042 318", "two bearings, 042 and 318"),
        (
            "318 r 17.3",
            "\"318 r 17.3\" reads two ways: write \"318r 17.3\" for a relative bearing, \"318 r17.3\" for a range",
        ),
        ("b 318 R 17.3nm", "write \"318r 17.3nm\" for a relative bearing"),
        ("2000", "\"2000\" is neither"),
        ("17.3 361", "bearing 361: bearings run from 000 to 360"),
        ("0 042", "range 0: ranges run from above 0"),
        ("r 900", "range 900"),
        ("17.3km", "\"km\" ends no number"),
        ("r042t", "\"042t\" is neither"),
        ("b", "b wants a number after it"),
        ("r", "r wants a number after it"),
        ("17.3 042 left right", "the part of the echo given twice"),
        ("30 d 3/2 d 2/1", "two deflections given twice: \"3/2\" and \"2/1\""),
        ("9 042 d 3/2", "the direction given twice: \"042\" and \"3/2\""),
        ("17.3 042 @0341 -2m", "the time given twice"),
        ("17.3 042 @9999", "no time"),
        ("Gannet Head", "no range and no bearing"),
        ("left", "no range and no bearing"),
        ("A", "no range and no bearing"),
    ] {
        assert!(
            says(line).starts_with("! ") && says(line).contains(told),
            "{line}: {}",
            says(line)
        );
    }
}
