//! Logs of a watch.

use super::{Case, case, lines};

pub fn logs() -> Vec<Case> {
    let most = u64::MAX;
    let record = |number: u64, rest: &str| format!("{number} 2031-03-09T03:42:55Z {rest}\n");
    let contact = |field: &str, value: &str| {
        record(
            1,
            &format!(
                "contact {{\"label\":\"A\",\"range_nm\":17.3,\"bearing_deg\":42.0,\"{field}\":{value}}}"
            ),
        )
    };
    let mut all = lines();
    all.extend([
        case("the last number there is", [record(most, "undo {}"), record(most, "redo {}"), record(1, "undo {}")].concat()),
        case("the first number there is", record(0, "undo {}")),
        case("numbers far apart", [record(1, "undo {}"), record(most, "undo {}")].concat()),
        case("undo without end", (1..1_500).map(|n| record(n, "undo {}")).collect::<String>()),
        case("redo without end", (1..1_500).map(|n| record(n, "redo {}")).collect::<String>()),
        case("nested", record(1, &format!("note {{\"text\":{}", "[".repeat(100_000)))),
        case("a time beyond", "1 9999-12-31T23:59:59Z note {\"text\":\"x\"}\n".to_owned()),
        case("times at both ends", [
            "1 -9999-01-02T01:59:59Z reckoning {\"time\":\"-9999-01-02T01:59:59Z\",\"lat_deg\":1,\"lon_deg\":1,\"covariance_nm2\":[[1,0],[0,1]]}\n",
            "2 9999-12-30T22:00:00Z height {\"height_ft\":1000}\n",
            "3 9999-12-30T22:00:00Z contact {\"label\":\"A\",\"range_nm\":17.3,\"bearing_deg\":42.0,\"time\":\"9999-12-30T21:00:00Z\"}\n",
            "4 9999-12-30T22:00:00Z track {\"track_deg\":90,\"speed_kn\":600}\n",
        ].concat()),
        case("what acts", record(1, "note {\"text\":\"\\u001b[2J\\u202e\\u0000\\u009b<script>alert(1)</script>\"}")),
        case("what acts, called", [contact("mark", "\"\\u001b]0;x\\u0007\\u202e<script>\""), record(2, "call {\"label\":\"A\",\"name\":\"\\u001b<script>\"}")].concat()),
    ]);
    for value in ["1e308", "-1e308", "1e-320", "0", "-0.0", "null", "\"x\"", "[]", "1e999"] {
        for field in [
            "range_nm",
            "bearing_deg",
            "height_ft",
            "range_sigma_nm",
            "bearing_sigma_deg",
            "confidence",
            "heading_deg",
        ] {
            all.push(case(field, contact(field, value)));
        }
        all.push(case("height", record(1, &format!("height {{\"height_ft\":{value}}}"))));
        all.push(case(
            "heading",
            record(1, &format!("heading {{\"degrees\":{value},\"kind\":\"true\"}}")),
        ));
        all.push(case("bank", record(1, &format!("bank {{\"bank_deg\":{value}}}"))));
        all.push(case("air", record(1, &format!("air {{\"speed_kn\":{value}}}"))));
        all.push(case(
            "track",
            record(1, &format!("track {{\"track_deg\":{value},\"speed_kn\":{value}}}")),
        ));
        all.push(case(
            "landfall",
            record(1, &format!("landfall {{\"lat_deg\":{value},\"lon_deg\":{value}}}")),
        ));
        all.push(case("reckoning", record(1, &format!(
            "reckoning {{\"time\":\"2031-03-09T03:42:55Z\",\"lat_deg\":{value},\"lon_deg\":{value},\"covariance_nm2\":[[{value},{value}],[{value},{value}]]}}"
        ))));
        all.push(case(
            "blank",
            record(1, &format!("blank {{\"set\":\"\",\"height_ft\":{value}}}")),
        ));
    }
    all
}
