//! Plans by hand, and the rules of a request held against plans of chance.

use super::*;
use crate::site::settings::{LinkAddress, LinkId, NumberType, Register, TransmitterId, WordOrder};
use proptest::prelude::*;
use std::collections::BTreeSet;

fn point(device: u8, space: Space, address: u16, number: NumberType) -> Place {
    Place::from(&Point {
        transmitter: TransmitterId(0),
        tag: format!("LT-{address}"),
        device,
        register: Register { space, address },
        number,
        order: WordOrder::Abcd,
    })
}

/// What is asked: device, space, first register, count.
fn asked(points: &[Place]) -> Vec<(u8, Space, u16, u16)> {
    requests(points)
        .iter()
        .map(|request| {
            (
                request.device,
                request.space,
                request.address,
                request.words,
            )
        })
        .collect()
}

use NumberType::{F32, F64, U16};
use Space::{Holding, Input};

#[test]
fn neighbours_share_a_request_and_a_gap_parts_them() {
    let points = [
        point(1, Input, 4, F32),
        point(1, Input, 0, F32),
        point(1, Input, 2, F32),
        point(1, Input, 7, U16),
    ];
    assert_eq!(asked(&points), [(1, Input, 0, 6), (1, Input, 7, 1)]);
    assert_eq!(requests(&points)[0].points, [1, 2, 0]);
}

#[test]
fn devices_and_spaces_are_asked_apart() {
    let points = [
        point(2, Input, 0, U16),
        point(1, Input, 1, U16),
        point(1, Holding, 0, U16),
    ];
    assert_eq!(
        asked(&points),
        [(1, Input, 1, 1), (1, Holding, 0, 1), (2, Input, 0, 1)]
    );
}

#[test]
fn numbers_that_overlap_share_a_request() {
    let points = [
        point(1, Input, 0, F64),
        point(1, Input, 1, U16),
        point(1, Input, 3, F32),
    ];
    assert_eq!(asked(&points), [(1, Input, 0, 5)]);
}

#[test]
fn a_request_is_full_at_125_registers_and_splits_no_number() {
    let points: Vec<Place> = (0..63)
        .map(|place| point(1, Input, 2 * place, F32))
        .collect();
    assert_eq!(asked(&points), [(1, Input, 0, 124), (1, Input, 124, 2)]);
}

#[test]
fn a_number_beyond_the_last_register_is_asked_for_as_written() {
    assert_eq!(
        asked(&[point(1, Input, u16::MAX, F64)]),
        [(1, Input, u16::MAX, 4)]
    );
}

proptest! {
    #[test]
    fn every_point_is_read_whole_and_nothing_else_is(
        places in prop::collection::vec(
            (0_u8..3, any::<bool>(), 0_u16..300, prop::sample::select(&[U16, F32, F64][..])), 1..120),
    ) {
        let points: Vec<Place> = places
            .iter()
            .map(|&(device, input, address, number)| {
                point(device, if input { Input } else { Holding }, address, number)
            })
            .collect();
        let mut read = vec![0; points.len()];
        for request in requests(&points) {
            prop_assert!((1..=125).contains(&request.words));
            let mut named = BTreeSet::new();
            for &place in &request.points {
                let point = &points[place];
                read[place] += 1;
                prop_assert_eq!((point.device, point.register.space), (request.device, request.space));
                named.extend(point.register.address..point.register.address + point.count);
            }
            let span: Vec<u16> = (request.address..request.address + request.words).collect();
            prop_assert_eq!(named.into_iter().collect::<Vec<_>>(), span);
        }
        prop_assert!(read.iter().all(|&times| times == 1));
    }

    #[test]
    fn the_wait_doubles_from_half_a_second_to_ten_less_up_to_a_fifth(
        failures in any::<u32>(), random in any::<u64>(),
    ) {
        let full_s = [0.5, 0.5, 1.0, 2.0, 4.0, 8.0].get(failures as usize).copied().unwrap_or(10.0);
        let wait_s = back_off(failures, random).as_secs_f64();
        prop_assert!((0.8 * full_s - 1e-6..=full_s).contains(&wait_s), "{wait_s} of {full_s}");
    }
}

#[test]
fn chance_moves_the_wait() {
    assert_eq!(back_off(1, 0), Duration::from_millis(500));
    assert_eq!(back_off(9, u64::MAX), Duration::from_secs(8));
}

#[test]
fn a_refused_request_falls_apart_until_the_device_was_silent() {
    let points = [
        point(1, Input, 0, U16),
        point(1, Input, 1, U16),
        point(1, Input, 5, U16),
    ];
    let mut devices = Devices::new(&points);
    let counts = |devices: &Devices| -> Vec<u16> {
        (0..)
            .map_while(|place| devices.request(0, place))
            .map(|request| request.words)
            .collect()
    };
    assert_eq!(counts(&devices), [2, 1]);
    devices.split(0, 0, &points);
    assert_eq!(counts(&devices), [1, 1, 1]);
    assert_eq!(
        devices.request(0, 2).map(|request| request.address),
        Some(5)
    );
    devices.answered(0);
    assert_eq!(counts(&devices), [1, 1, 1]);
    devices.fell_silent(0);
    assert_eq!(counts(&devices), [2, 1]);
}

#[test]
fn of_the_silent_devices_one_is_asked_a_round_and_last() {
    let points: Vec<Place> = (1..=4).map(|device| point(device, Input, 0, U16)).collect();
    let mut devices = Devices::new(&points);
    assert_eq!(devices.round(), [0, 1, 2, 3]);
    devices.fell_silent(0);
    devices.fell_silent(2);
    assert_eq!(devices.round(), [1, 3, 0]);
    assert_eq!(devices.round(), [1, 3, 2]);
    devices.answered(2);
    assert_eq!(devices.round(), [1, 2, 3, 0]);
    devices.came_back();
    assert_eq!(devices.round(), [0, 1, 2, 3]);
}

#[test]
fn links_poll_spread_over_their_periods() {
    let link = |place: u32, period_s| LinkSettings {
        id: LinkId(place),
        name: format!("link {place}"),
        address: LinkAddress::Tcp("127.0.0.1:502".to_owned()),
        poll_every: Duration::from_secs(period_s),
        timeout: Duration::from_secs(1),
        points: Vec::new(),
        bits: Vec::new(),
    };
    let spread_s: Vec<f64> = spread(&[link(0, 2), link(1, 2), link(2, 4), link(3, 2)])
        .iter()
        .map(Duration::as_secs_f64)
        .collect();
    assert_eq!(spread_s, [0.0, 0.5, 2.0, 1.5]);
    assert!(spread(&[]).is_empty());
}
