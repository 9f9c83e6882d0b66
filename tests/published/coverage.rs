//! Every row of every table under `data` is held against something: counted, so that none is dropped in silence.
//!
//! [`TABLES`] names the tests of each file. They are run here once more, one file after the other, and each
//! must meet every row of its file between them; the README shows the same list.
//!
//! Sources: those of the rows, which each table's own `source` column names and which a failing row prints.

use crate::rows::{rows, take_met};
use std::collections::BTreeSet;
use std::path::Path;

struct Table {
    file: &'static str,
    rows: usize,
    tests: &'static [(&'static str, fn())],
}

macro_rules! table {
    ($file:literal, $rows:literal, [$($module:ident::$test:ident),* $(,)?]) => {
        Table {
            file: $file,
            rows: $rows,
            tests: &[$((
                concat!(stringify!($module), "::", stringify!($test)),
                crate::$module::$test,
            )),*],
        }
    };
}

const TABLES: &[Table] = &[
    table!(
        "boiler-drum.csv",
        80,
        [
            steam::the_level_of_a_boiler_drum,
            hookups::the_drum_comes_out_either_way_round
        ]
    ),
    table!(
        "compressed-water.csv",
        42,
        [
            steam::water_under_pressure,
            densities::water_under_pressure_lies_within_the_stated_uncertainty,
            told_densities::water_under_pressure
        ]
    ),
    table!("cusum-nist.csv", 20, [charts::sums_as_in_the_handbook]),
    table!(
        "cusum-run-lengths.csv",
        12,
        [charts::run_lengths_of_the_sums_as_published]
    ),
    table!("dry-air.csv", 13, [densities::dry_air_is_an_ideal_gas]),
    table!(
        "ewma-nist.csv",
        21,
        [charts::moving_averages_as_in_the_handbook]
    ),
    table!(
        "ewma-run-lengths.csv",
        7,
        [charts::run_lengths_of_the_moving_average_as_published]
    ),
    table!(
        "float-registers.csv",
        28,
        [registers::floats_in_all_four_orders, registers::long_floats]
    ),
    table!(
        "float-wrong-order.csv",
        48,
        [registers::floats_read_in_a_wrong_order_are_wrong_in_the_known_way]
    ),
    table!(
        "glycols.csv",
        124,
        [fluids::glycols, told_densities::glycols_and_sea_water]
    ),
    table!(
        "gravity.csv",
        39,
        [
            gravity::normal_gravity_of_places_from_pole_to_pole,
            gravity::normal_gravity_agrees_with_the_seawater_equation_s_own
        ]
    ),
    table!(
        "gum-h1.csv",
        4,
        [uncertainty::parts_add_up_as_in_the_guide_s_end_gauge]
    ),
    table!(
        "gum-h3.csv",
        11,
        [uncertainty::correlated_inputs_as_in_the_guide_s_thermometer]
    ),
    table!(
        "iapws-verification.csv",
        32,
        [steam::the_check_values_of_the_releases]
    ),
    table!(
        "inh2o-trap.csv",
        4,
        [
            pressure_units::the_four_inches_of_water_are_as_far_apart_as_published,
            pressure_units::an_inch_of_water_alone_is_refused_with_the_published_spread
        ]
    ),
    table!("int-registers.csv", 9, [registers::integers]),
    table!(
        "level-budgets.csv",
        3,
        [
            uncertainty::budgets_of_the_balance_by_the_guide_s_equation,
            uncertainty::budgets_of_convert
        ]
    ),
    table!(
        "lines.csv",
        11,
        [lines::least_squares_as_in_the_guide_and_as_nist_certifies]
    ),
    table!(
        "loop-current.csv",
        15,
        [current_loop::currents_are_classed_as_ne_43_says]
    ),
    table!(
        "loop-scaling.csv",
        10,
        [current_loop::currents_are_scaled_on_a_straight_line]
    ),
    table!(
        "modbus-exchanges.csv",
        11,
        [registers::requests_and_answers_on_the_wire]
    ),
    table!(
        "organic-liquids.csv",
        59,
        [
            organic_liquids::tables_of_organic_liquids,
            told_densities::tables
        ]
    ),
    table!(
        "petroleum-vcf.csv",
        100,
        [
            petroleum::factors_of_the_2004_procedure,
            petroleum::a_base_of_15_degc_agrees_with_the_tables_of_1980,
            told_densities::petroleum
        ]
    ),
    table!(
        "petroleum-vcf-published.csv",
        6,
        [petroleum::examples_in_print]
    ),
    table!(
        "pressure-conversions.csv",
        51,
        [pressure_units::conversions_are_the_published_ones]
    ),
    table!(
        "pressure-units.csv",
        30,
        [
            pressure_units::factors_are_the_published_ones,
            pressure_units::factors_round_to_what_sp_811_prints,
            pressure_units::the_printed_inch_at_60_degf_is_water_within_its_rounding,
            pressure_units::what_is_left_out_is_not_understood
        ]
    ),
    table!(
        "saturated-fluids.csv",
        35,
        [
            fluids::liquids_under_their_own_vapour,
            told_densities::tables
        ]
    ),
    table!(
        "saturated-vapour.csv",
        23,
        [densities::vapours_lie_within_the_stated_uncertainty_or_are_out_of_range]
    ),
    table!(
        "saturated-water-steam.csv",
        31,
        [
            steam::saturated_water_and_steam,
            told_densities::boiling_water
        ]
    ),
    table!(
        "sea-water.csv",
        32,
        [fluids::sea_water, told_densities::glycols_and_sea_water]
    ),
    table!(
        "standard-atmosphere.csv",
        11,
        [densities::air_pressure_follows_the_standard_atmosphere]
    ),
    table!(
        "units.csv",
        18,
        [units::quantities_have_the_published_si_values]
    ),
    table!(
        "vessels.csv",
        521,
        [
            vessels::vessels_hold_what_the_published_forms_say,
            vessels::published_volumes_lead_back_to_their_levels,
            strap::vessels_by_the_program_s_strap,
            vessels_written::vessels_of_every_kind_of_end
        ]
    ),
    table!(
        "vessels-elliptical.csv",
        9,
        [
            vessels_lying::elliptical_sections,
            vessels_written::sloped_vessels_and_elliptical_sections
        ]
    ),
    table!(
        "vessels-inches.csv",
        30,
        [vessels_inches::vessels_in_inches_and_gallons]
    ),
    table!(
        "vessels-sloped.csv",
        25,
        [
            vessels_lying::sloped_cylinders,
            vessels_written::sloped_vessels_and_elliptical_sections,
            vessels_written::a_pressure_on_a_sloped_vessel_is_the_published_level
        ]
    ),
    table!(
        "water-density.csv",
        39,
        [
            densities::water_agrees_with_iapws_95,
            densities::water_differs_from_kell_by_the_temperature_scale,
            told_densities::water
        ]
    ),
];

/// Lists that are no tables; each test counts its own.
const LISTS: &[(&str, usize, &str)] = &[
    (
        "statistics.json",
        4,
        "statistics::each_example_comes_out_as_published",
    ),
    (
        "hydrostatic-examples.json",
        39,
        "balance::every_example_is_checked_or_listed",
    ),
    (
        "trends.json",
        5,
        "uncertainty::theil_sen_slopes_of_another_library",
    ),
];

#[test]
fn every_row_is_met() {
    for table in TABLES {
        let all: BTreeSet<u64> = rows(table.file)
            .iter()
            .map(crate::rows::Row::line)
            .collect();
        assert_eq!(all.len(), table.rows, "rows of {}", table.file);
        take_met(table.file);
        for (_, test) in table.tests {
            test();
        }
        let left: Vec<u64> = all.difference(&take_met(table.file)).copied().collect();
        assert!(
            left.is_empty(),
            "{}: nothing meets lines {left:?}",
            table.file
        );
    }
    let count: usize = TABLES.iter().map(|table| table.rows).sum();
    assert!(count > 1_100, "{count} rows");
}

#[test]
fn every_file_has_its_tests() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/published/data");
    let files: BTreeSet<String> = std::fs::read_dir(folder)
        .expect("the data are there")
        .map(|file| {
            file.expect("a file")
                .file_name()
                .to_string_lossy()
                .into_owned()
        })
        .collect();
    let tables = TABLES.iter().map(|table| table.file);
    let known = tables.chain(LISTS.iter().map(|(file, _, _)| *file));
    let known: BTreeSet<String> = known.map(str::to_owned).collect();
    assert_eq!(files, known);
}

#[test]
fn the_readme_shows_them() {
    let readme = include_str!("README.md");
    let shown: Vec<&str> = readme
        .lines()
        .filter(|line| line.starts_with("| `"))
        .collect();
    let line = |file: &str, rows: usize, tests: &[&str]| {
        let tests: Vec<String> = tests.iter().map(|test| format!("`{test}`")).collect();
        format!("| `{file}` | {rows} | {} |", tests.join(", "))
    };
    let tables = TABLES.iter().map(|table| {
        let tests: Vec<&str> = table.tests.iter().map(|(name, _)| *name).collect();
        line(table.file, table.rows, &tests)
    });
    let lists = LISTS
        .iter()
        .map(|(file, rows, test)| line(file, *rows, &[test]));
    let due: Vec<String> = tables.chain(lists).collect();
    assert_eq!(
        shown,
        due,
        "the table of README.md should be:\n{}",
        due.join("\n")
    );
}
