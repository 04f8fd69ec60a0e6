//! Each thing that can be wrong with a chart folder, and the exact message it gets.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod small_chart;

use std::fs;
use std::path::Path;

use foreland::chart::Opening;
use shapefile::dbase::{FieldName, FieldValue, Record, TableWriterBuilder};
use shapefile::{Point, Polygon, PolygonRing, Polyline, ShapeWriter};
use small_chart::{changed, island, open, told, write_coast};

fn write_table(folder: &Path, rows: usize) {
    let name = FieldName::try_from("NAME").unwrap();
    let mut writer = TableWriterBuilder::new()
        .add_character_field(name, 20)
        .build_with_file_dest(folder.join("coast.dbf"))
        .unwrap();
    for row in 0..rows {
        let mut record = Record::default();
        let name = format!("Isle {row}");
        record.insert("NAME".to_owned(), FieldValue::Character(Some(name)));
        writer.write_record(&record).unwrap();
    }
}

/// Overwrites bytes of `coast.shp`.
fn patch(folder: &Path, at: usize, bytes: &[u8]) {
    let path = folder.join("coast.shp");
    let mut shp = fs::read(&path).unwrap();
    shp[at..at + bytes.len()].copy_from_slice(bytes);
    fs::write(path, shp).unwrap();
}

/// Where the first point of the first record starts: file header, record header, and a polygon's
/// type, box, two counts and one part.
const FIRST_POINT: usize = 100 + 8 + 4 + 32 + 8 + 4;

#[test]
fn a_sound_chart_opens_with_and_without_its_index() {
    let folder = changed(|_| ());
    assert_eq!(open(folder.path()).unwrap().coast().line_count(), 2);
    fs::write(folder.path().join("coast.shx"), b"damaged").unwrap();
    assert_eq!(open(folder.path()).unwrap().coast().line_count(), 2);
    fs::remove_file(folder.path().join("coast.shx")).unwrap();
    assert_eq!(open(folder.path()).unwrap().coast().line_count(), 2);
}

#[test]
fn a_truncated_file_names_the_record() {
    let folder = changed(|folder| {
        let path = folder.join("coast.shp");
        let shp = fs::read(&path).unwrap();
        fs::write(path, &shp[..shp.len() - 20]).unwrap();
    });
    assert_eq!(
        told(folder.path()),
        (
            "CHART/coast.shp: record 2 is cut short: it needs 136 bytes, 116 are left".to_owned(),
            "the file is truncated: copy it again whole".to_owned()
        )
    );
}

#[test]
fn a_count_that_the_file_cannot_hold_is_refused_before_anything_is_allocated() {
    let folder = changed(|folder| patch(folder, 100 + 8 + 40, &i32::MAX.to_le_bytes()));
    assert_eq!(
        told(folder.path()).0,
        "CHART/coast.shp: record 1 is damaged: 1 parts and 2147483647 points need 34359738400 \
         bytes, it holds 128"
    );
}

#[test]
fn coordinates_that_are_no_numbers_name_the_point() {
    for (value, word) in [(f64::NAN, "NaN"), (f64::INFINITY, "inf")] {
        let folder = changed(|folder| patch(folder, FIRST_POINT + 16, &value.to_le_bytes()));
        assert_eq!(
            told(folder.path()),
            (
                format!(
                    "CHART/coast.shp: record 1, point 2: coordinate {word} is no finite number"
                ),
                "mend or take out the point and export the layer again".to_owned()
            )
        );
    }
}

#[test]
fn a_latitude_beyond_the_pole_names_the_point() {
    let folder = changed(|folder| patch(folder, FIRST_POINT + 8, &95.0_f64.to_le_bytes()));
    let (message, help) = told(folder.path());
    assert_eq!(message, "CHART/coast.shp: record 1, point 1: latitude 95 is outside -90 to 90");
    assert!(help.contains("needs its .prj"), "{help}");
}

#[test]
fn a_table_of_another_length_is_refused() {
    let folder = changed(|folder| write_table(folder, 3));
    assert_eq!(told(folder.path()).0, "CHART/coast.dbf: holds 3 records, its .shp holds 2");
    let folder = changed(|folder| write_table(folder, 2));
    assert!(open(folder.path()).is_ok());
}

/// A row is deleted by its first byte, until the table is packed.
#[test]
fn a_shape_whose_record_is_deleted_is_left_out() {
    let folder = changed(|folder| {
        write_table(folder, 2);
        let path = folder.join("coast.dbf");
        let mut table = fs::read(&path).unwrap();
        let [header, row] =
            [8, 10].map(|at| usize::from(table[at]) | usize::from(table[at + 1]) << 8);
        assert_eq!(table[header + row], b' ');
        table[header + row] = b'*';
        fs::write(path, table).unwrap();
    });
    let chart = open(folder.path()).unwrap();
    assert_eq!(chart.coast().line_count(), 1);
    // The second island, 20.5 W, is the one that is gone.
    let area = chart.coast().extent().unwrap();
    assert!((area.east - -20.8).abs() < 1e-9, "{area:?}");
    let layer = &chart.survey().layers[0];
    assert_eq!((layer.shapes, layer.parts), (1, 1));
    assert_eq!(layer.odd, ["1 deleted records, left out"]);
    // A chart whose index is made of it has no more.
    let index = folder.path().with_extension("index");
    let charts = [folder.path().to_path_buf()];
    Opening::new(&charts).prepare(&index).unwrap();
    let prepared = Opening::new(&charts).indexed(std::slice::from_ref(&index)).open();
    fs::remove_file(&index).unwrap();
    let prepared = prepared.unwrap();
    assert_eq!(prepared.coast().line_count(), 1);
    assert_eq!(prepared.survey().layers[0].odd, ["1 deleted records, left out"]);
}

#[test]
fn folders_that_hold_no_chart_say_what_they_hold() {
    let empty = tempfile::tempdir().unwrap();
    assert_eq!(told(empty.path()).0, "CHART: holds no chart: it is empty");
    fs::write(empty.path().join("notes.txt"), "hello").unwrap();
    assert_eq!(
        told(empty.path()),
        (
            "CHART: holds no chart: notes.txt, and none is a .shp".to_owned(),
            "a chart folder holds at least one .shp file of coast or marks".to_owned()
        )
    );
    let missing = empty.path().join("nowhere");
    assert_eq!(told(&missing).0, "CHART: no such folder");
    assert_eq!(told(&empty.path().join("notes.txt")).0, "CHART: is a file, not a folder");
}

#[test]
fn an_empty_chart_is_refused() {
    let folder = changed(|folder| {
        let shp = fs::read(folder.join("coast.shp")).unwrap();
        let mut header = shp[..100].to_vec();
        header[24..28].copy_from_slice(&50_i32.to_be_bytes());
        fs::write(folder.join("coast.shp"), header).unwrap();
    });
    assert_eq!(
        told(folder.path()).0,
        "CHART: the chart is empty: no coast and no marks in coast.shp"
    );
}

#[test]
fn datums_that_are_not_known_are_refused_by_name() {
    // The definitions of EPSG:4277 and EPSG:4267 without a shift (EPSG registry, from memory).
    let osgb = r#"GEOGCS["OSGB 1936",DATUM["OSGB_1936",SPHEROID["Airy 1830",6377563.396,299.3249646]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]]"#;
    let nad27 = r#"GEOGCS["NAD27",DATUM["North_American_Datum_1927",SPHEROID["Clarke 1866",6378206.4,294.9786982]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]]"#;
    for (name, prj) in [("OSGB 1936", osgb), ("NAD27", nad27)] {
        let folder = changed(|folder| fs::write(folder.join("coast.prj"), prj).unwrap());
        assert_eq!(
            told(folder.path()),
            (
                format!(
                    "CHART/coast.prj: \"{name}\" is refused: how its datum lies to WGS84 is not \
                     stated"
                ),
                "reproject the layer to geographic WGS84 (EPSG:4326) and export it again"
                    .to_owned()
            )
        );
    }
    let folder = changed(|folder| fs::write(folder.join("coast.prj"), "local grid").unwrap());
    assert_eq!(
        told(folder.path()).0,
        "CHART/coast.prj: \"no name\" is refused: its definition cannot be read"
    );
}

#[test]
fn a_layer_in_utm_is_reprojected() {
    let utm = r#"PROJCS["WGS 84 / UTM zone 31N",GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]],PROJECTION["Transverse_Mercator"],PARAMETER["latitude_of_origin",0],PARAMETER["central_meridian",3],PARAMETER["scale_factor",0.9996],PARAMETER["false_easting",500000],PARAMETER["false_northing",0],UNIT["metre",1]]"#;
    let folder = tempfile::tempdir().unwrap();
    let corners = [(0.0, 0.0), (0.0, 1000.0), (1000.0, 1000.0), (1000.0, 0.0), (0.0, 0.0)];
    let ring = corners.iter().map(|(x, y)| Point::new(500_000.0 + x, *y)).collect();
    write_coast(folder.path(), &[Polygon::new(PolygonRing::Outer(ring))]);
    fs::write(folder.path().join("coast.prj"), utm).unwrap();
    let area = open(folder.path()).unwrap().coast().extent().unwrap();
    // On the central meridian of zone 31 at the equator the easting is 500,000 m and the longitude
    // 3 E; a kilometre of easting there is 0.0089868 degrees (computed: 1000 / 0.9996 / 111319.49).
    assert!((area.west - 3.0).abs() < 1e-6 && area.south.abs() < 1e-6, "{area:?}");
    assert!((area.east - area.west - 0.008_986_8).abs() < 1e-5, "{area:?}");
}

#[test]
fn what_chart_toml_says_is_checked() {
    let cases = [
        (
            "[layers]\ncoast = [\"cost.shp\"]",
            "CHART/chart.toml: layers.coast names \"cost.shp\", which is not in the folder",
            "did you mean \"coast.shp\"?",
        ),
        (
            "[layers]\ncoast = [\"../coast.shp\"]",
            "CHART/chart.toml: layers.coast names \"../coast.shp\", which is outside the chart's \
             folder",
            "name files of this folder only, with no \"..\" and no leading \"/\"",
        ),
        (
            "[layer]\ncoast = [\"coast.shp\"]",
            "CHART/chart.toml: unknown key \"layer\"",
            "did you mean \"layers\"?",
        ),
        (
            "[grids]\nelevation = [\"dem/*.hgt\"]",
            "CHART/chart.toml: grids.elevation names \"dem/*.hgt\", which is not in the folder",
            "name grids of this folder, as \"dem/*.hgt\"",
        ),
        (
            "[accuracy]\npoint_sigma_nm = -1",
            "CHART/chart.toml: accuracy.point_sigma_nm = -1 is outside 0.001 to 10",
            "give a value in that range, or leave the key out for its default",
        ),
    ];
    for (text, message, help) in cases {
        let folder = changed(|folder| fs::write(folder.join("chart.toml"), text).unwrap());
        assert_eq!(told(folder.path()), (message.to_owned(), help.to_owned()));
    }
}

/// One line of an island as `coast.shp`, its table with a column of heights.
fn write_lines_with_height(folder: &Path, height: f64) {
    write_lines_with(folder, "ELEV_M", height);
}

/// The same with a column of this name.
fn write_lines_with(folder: &Path, column: &str, value: f64) {
    let corners = [(0.0, 0.0), (0.0, 0.2), (0.2, 0.2), (0.2, 0.0), (0.0, 0.0)];
    let line = corners.iter().map(|(x, y)| Point::new(-21.0 + x, -38.0 + y)).collect();
    let mut writer = ShapeWriter::from_path(folder.join("coast.shp")).unwrap();
    writer.write_shape(&Polyline::new(line)).unwrap();
    drop(writer);
    let mut table = TableWriterBuilder::new()
        .add_numeric_field(FieldName::try_from(column).unwrap(), 10, 1)
        .build_with_file_dest(folder.join("coast.dbf"))
        .unwrap();
    let mut record = Record::default();
    record.insert(column.to_owned(), FieldValue::Numeric(Some(value)));
    table.write_record(&record).unwrap();
}

#[test]
fn lines_with_a_height_are_coast_where_nothing_else_is() {
    let folder = changed(|folder| write_lines_with_height(folder, 0.0));
    let chart = open(folder.path()).unwrap();
    assert_eq!(chart.coast().line_count(), 1);
    assert!(chart.cautions().iter().any(|told| told.contains("taken as coast")));
    // Beside a coast of polygons the same lines are contours.
    let folder = changed(|folder| {
        write_lines_with_height(folder, 50.0);
        for kind in ["shp", "shx", "dbf"] {
            fs::rename(folder.join(format!("coast.{kind}")), folder.join(format!("relief.{kind}")))
                .unwrap();
        }
        write_coast(folder, &[island(-21.0, -38.0)]);
    });
    let chart = open(folder.path()).unwrap();
    assert_eq!(chart.coast().line_count(), 1);
    assert!(chart.ground().has_contours());
}

/// A mark on an island as `marks.shp`, its table with one column.
fn write_mark_with(folder: &Path, column: &str, value: f64) {
    let mut writer = ShapeWriter::from_path(folder.join("marks.shp")).unwrap();
    writer.write_shape(&Point::new(-20.9, -37.91)).unwrap();
    drop(writer);
    let mut table = TableWriterBuilder::new()
        .add_numeric_field(FieldName::try_from(column).unwrap(), 10, 1)
        .build_with_file_dest(folder.join("marks.dbf"))
        .unwrap();
    let mut record = Record::default();
    record.insert(column.to_owned(), FieldValue::Numeric(Some(value)));
    table.write_record(&record).unwrap();
}

/// A thousand feet are 304.8 m (definition).
#[test]
fn the_unit_of_heights_goes_by_the_name_of_their_column_and_is_told() {
    for (column, metres, told) in [
        ("ELEV_FEET", 304.8, "in feet"),
        ("SHIFT", 1000.0, "in metres"),
        ("ELEV", 1000.0, "in metres"),
    ] {
        let folder = changed(|folder| {
            write_mark_with(folder, column, 1000.0);
            let text = format!("[attributes]\nheight = \"{column}\"\n");
            fs::write(folder.join("chart.toml"), text).unwrap();
        });
        let chart = open(folder.path()).unwrap();
        let marks = chart.survey().layers.iter().find(|layer| layer.role == "marks").unwrap();
        assert_eq!(marks.attributes, [format!("height: {column}, {told}")]);
        let there = |mark: &foreland::chart::Mark| (mark.position.latitude() + 37.91).abs() < 1e-9;
        let (_, mark) = chart.marks().iter().find(|(_, mark)| there(mark)).unwrap();
        assert!((mark.height.metres() - metres).abs() < 1e-6, "{column}: {}", mark.height.feet());
    }
}

/// Taken as heights they were hills at sea; taken as coast they would be islands.
#[test]
fn contours_of_depth_are_neither_relief_nor_coast() {
    let folder = changed(|folder| {
        write_lines_with(folder, "VALDCO", 50.0);
        for kind in ["shp", "shx", "dbf"] {
            fs::rename(folder.join(format!("coast.{kind}")), folder.join(format!("depcnt.{kind}")))
                .unwrap();
        }
        write_coast(folder, &[island(-20.5, -38.0)]);
    });
    let chart = open(folder.path()).unwrap();
    assert_eq!(chart.coast().line_count(), 1);
    assert!(!chart.ground().has_contours());
    assert_eq!(chart.survey().odd, ["depcnt.shp: holds depths (VALDCO), not read"]);
    fs::remove_file(folder.path().join("coast.shp")).unwrap();
    assert_eq!(
        told(folder.path()).0,
        "CHART: the chart is empty: no layer of coast or marks; depcnt.shp: holds depths (VALDCO), \
         not read"
    );
}

#[test]
fn a_height_that_stands_for_none_is_not_believed() {
    let folder = changed(|folder| write_mark_with(folder, "ELEV_M", -9999.0));
    let chart = open(folder.path()).unwrap();
    assert!(chart.marks().iter().all(|(_, mark)| mark.height.metres() >= 0.0));
    let odd: Vec<&String> = chart.survey().layers.iter().flat_map(|layer| &layer.odd).collect();
    assert!(odd.iter().any(|odd| odd.contains("taken as not known")), "{odd:?}");
}

#[test]
fn paths_that_leave_the_folder_are_refused_however_they_are_written() {
    let outside = [
        "/etc/coast.shp",
        "..",
        "../coast.shp",
        "./dem/../../coast.shp",
        "dem/../coast.shp",
        r"..\\coast.shp",
        r"dem\\coast.shp",
        r"C:\\coast.shp",
        "C:coast.shp",
        "//server/coast.shp",
    ];
    for key in ["layers.coast", "layers.relief", "layers.marks", "layers.cover", "grids.elevation"]
    {
        let (table, name) = key.split_once('.').unwrap();
        for path in outside {
            let text = format!("[{table}]\n{name} = [\"{path}\"]");
            let folder = changed(|folder| fs::write(folder.join("chart.toml"), text).unwrap());
            let path = path.replace(r"\\", r"\");
            assert_eq!(
                told(folder.path()),
                (
                    format!(
                        "CHART/chart.toml: {key} names \"{path}\", which is outside the chart's folder"
                    ),
                    "name files of this folder only, with no \"..\" and no leading \"/\""
                        .to_owned()
                )
            );
        }
    }
    for path in ["", ".", "./", "coast.shp/"] {
        let text = format!("[layers]\ncoast = [\"{path}\"]");
        let folder = changed(|folder| fs::write(folder.join("chart.toml"), text).unwrap());
        let shown = path.trim_start_matches("./");
        assert_eq!(
            told(folder.path()).0,
            format!("CHART/chart.toml: layers.coast names \"{shown}\", which is not in the folder")
        );
    }
}

#[cfg(unix)]
#[test]
fn a_link_does_not_lead_out_of_the_folder() {
    use std::os::unix::fs::symlink;
    let beside = tempfile::tempdir().unwrap();
    write_coast(beside.path(), &[island(-22.0, -38.0)]);
    let whole = beside.path().canonicalize().unwrap();
    let links = [
        ("more.shp", "coast.shp", "more.shp", "coast.shp"),
        ("coast.dbf", "coast.prj", "coast.dbf", "coast.prj"),
        ("more", "", "more/coast.shp", "coast.shp"),
    ];
    for (link, to, file, leads) in links {
        let folder = changed(|folder| {
            symlink(beside.path().join(to), folder.join(link)).unwrap();
        });
        assert_eq!(
            told(folder.path()),
            (
                format!(
                    "CHART/{file}: is a link to {}, which is outside the chart's folder",
                    whole.join(leads).display()
                ),
                "put the file itself into the folder".to_owned()
            )
        );
    }
    // Within the folder a link is as good as the file, and a chart may itself be one.
    let folder = changed(|folder| {
        fs::rename(folder.join("coast.shp"), folder.join("kept")).unwrap();
        symlink("kept", folder.join("coast.shp")).unwrap();
    });
    assert_eq!(open(folder.path()).unwrap().coast().line_count(), 2);
    let elsewhere = tempfile::tempdir().unwrap();
    symlink(folder.path(), elsewhere.path().join("chart")).unwrap();
    assert_eq!(open(&elsewhere.path().join("chart")).unwrap().coast().line_count(), 2);
}

#[cfg(target_os = "linux")]
#[test]
fn a_device_or_a_pipe_is_no_layer() {
    use std::os::unix::fs::symlink;
    let folder = changed(|folder| symlink("/dev/zero", folder.join("chart.toml")).unwrap());
    assert_eq!(told(folder.path()).0, "CHART/chart.toml: cannot be read: it is no plain file");
    let folder = changed(|folder| {
        fs::remove_file(folder.join("coast.prj")).unwrap();
        let made = std::process::Command::new("mkfifo").arg(folder.join("coast.prj")).status();
        assert!(made.unwrap().success());
    });
    assert_eq!(told(folder.path()).0, "CHART/coast.prj: cannot be read: it is no plain file");
}

#[test]
fn a_file_of_a_few_lines_that_has_no_end_is_refused() {
    for name in ["chart.toml", "coast.prj"] {
        let folder =
            changed(|folder| fs::write(folder.join(name), "# \n".repeat(400_000)).unwrap());
        assert_eq!(
            told(folder.path()).0,
            format!("CHART/{name}: cannot be read: it is larger than 1 MiB")
        );
    }
}

#[test]
fn a_surface_in_space_is_no_coast_wherever_it_stands() {
    let folder = changed(|folder| patch(folder, 100 + 8, &31_i32.to_le_bytes()));
    assert_eq!(
        told(folder.path()).0,
        "CHART/coast.shp: record 1 is a multipatch, which is no coast, relief or mark"
    );
}

#[test]
fn a_layer_that_is_named_twice_is_read_once() {
    let folder = changed(|folder| {
        let mut writer = ShapeWriter::from_path(folder.join("marks.shp")).unwrap();
        writer.write_shape(&Point::new(-19.0, -37.0)).unwrap();
        drop(writer);
        let text = "[layers]\ncoast = [\"coast.shp\"]\nmarks = [\"marks.shp\", \"./marks.shp\"]";
        fs::write(folder.join("chart.toml"), text).unwrap();
    });
    let chart = open(folder.path()).unwrap();
    let there = |mark: &foreland::chart::Mark| (mark.position.latitude() + 37.0).abs() < 1e-9;
    assert_eq!(chart.marks().iter().filter(|(_, mark)| there(mark)).count(), 1);
    let odd = &chart.survey().odd;
    assert_eq!(odd, &["marks.shp: named more than once under layers.marks, read once"]);
}
