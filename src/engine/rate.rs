//! Rate of level change: Theil–Sen slope over a window of bucketed means, with its standard error.
//!
//! The median of all pairwise slopes (Theil 1950; Sen 1968) shrugs off up to 29 % of wild points.
//! Memory is fixed: so many means, a slope worked out once a bucket.

use std::time::Duration;

/// The most points in the window: one minute of quick polls, long enough to see some millimetres a minute
/// through the noise, short enough that a pump that turned shows within half a minute.
pub const POINTS: usize = 12;
/// What a forecast goes by: ten minutes, or more where polls are slow; 276 pairs each 25 s. A longer window sees a
/// slower movement, as its length to the power of 3/2.
const LONG_POINTS: usize = 24;
const LONG_BUCKET: Duration = Duration::from_secs(25);
/// A rate of fewer points is not given.
const FEWEST: usize = 4;
/// The shortest bucket: how often a slope is worked out at most.
const SHORTEST_BUCKET: Duration = Duration::from_secs(5);
/// A rate must be this many standard errors to be a direction.
const SIGNIFICANT: f64 = 3.0;
/// Ratio of the standard deviation to the median absolute deviation of a normal distribution.
const MAD_TO_SIGMA: f64 = 1.4826;

/// A rate in units of the value per second.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rate {
    pub per_second: f64,
    pub standard_error: f64,
}

impl Rate {
    /// Whether it is three standard errors from standing still.
    pub fn has_direction(&self) -> bool {
        self.per_second.abs() >= SIGNIFICANT * self.standard_error
    }
}

#[derive(Clone, Debug)]
pub struct RateWindow {
    bucket: Duration,
    most: usize,
    points: Vec<(f64, f64)>,
    open: Option<Bucket>,
    rate: Option<Rate>,
    /// Scratch space.
    ordered: Vec<Ordered>,
}

#[derive(Clone, Copy, Debug)]
struct Bucket {
    from: Duration,
    sum_time_s: f64,
    sum_value: f64,
    count: f64,
}

impl RateWindow {
    pub fn new(poll_every: Duration) -> Self {
        Self::of(poll_every.max(SHORTEST_BUCKET), POINTS)
    }

    /// The window that forecasts go by.
    pub fn long(poll_every: Duration) -> Self {
        Self::of(poll_every.max(LONG_BUCKET), LONG_POINTS)
    }

    fn of(bucket: Duration, most: usize) -> Self {
        Self {
            bucket,
            most,
            points: Vec::with_capacity(most),
            open: None,
            rate: None,
            ordered: Vec::with_capacity(most * (most - 1) / 2),
        }
    }

    pub fn rate(&self) -> Option<Rate> {
        self.rate
    }

    /// From the first of its points to the last, s.
    pub fn span_s(&self) -> f64 {
        let (first, last) = (self.points.first(), self.points.last());
        first
            .zip(last)
            .map_or(0.0, |(first, last)| last.0 - first.0)
    }

    /// Forgets everything: what came before does not belong to what comes.
    pub fn clear(&mut self) {
        self.points.clear();
        self.open = None;
        self.rate = None;
    }

    /// True where a bucket closed, so that the rate is a new one.
    pub fn add(&mut self, up: Duration, value: f64) -> bool {
        let bucket = self.open.get_or_insert(Bucket {
            from: up,
            sum_time_s: 0.0,
            sum_value: 0.0,
            count: 0.0,
        });
        if up.saturating_sub(bucket.from) >= self.bucket {
            let closed = *bucket;
            *bucket = Bucket {
                from: up,
                sum_time_s: 0.0,
                sum_value: 0.0,
                count: 0.0,
            };
            bucket.take(up, value);
            self.close(closed);
            return true;
        }
        bucket.take(up, value);
        false
    }

    fn close(&mut self, bucket: Bucket) {
        let point = (
            bucket.sum_time_s / bucket.count,
            bucket.sum_value / bucket.count,
        );
        let oldest = point.0 - self.bucket.as_secs_f64() * self.most as f64;
        self.points.retain(|(time_s, _)| *time_s > oldest);
        if self.points.len() == self.most {
            self.points.remove(0);
        }
        self.points.push(point);
        self.rate = self.slope();
    }

    fn slope(&mut self) -> Option<Rate> {
        if self.points.len() < FEWEST {
            return None;
        }
        let (_, first) = self.points[0];
        if self
            .points
            .iter()
            .all(|(_, value)| value.to_bits() == first.to_bits())
        {
            return Some(Rate {
                per_second: 0.0,
                standard_error: 0.0,
            });
        }
        let per_second = theil_sen(&self.points, &mut self.ordered)?;
        let standard_error = self.standard_error(per_second);
        Some(Rate {
            per_second,
            standard_error,
        })
    }

    /// Standard error as of a least-squares slope, with σ from the median absolute residual:
    /// se = σ / √Σ(t − t̄)²
    fn standard_error(&mut self, per_second: f64) -> f64 {
        let residuals = self.points.iter();
        let residuals = residuals.map(|(time_s, value)| Ordered::of(value - per_second * time_s));
        self.ordered.clear();
        self.ordered.extend(residuals);
        let intercept = median(&mut self.ordered);
        for residual in &mut self.ordered {
            *residual = Ordered::of((residual.value() - intercept).abs());
        }
        let sigma = MAD_TO_SIGMA * median(&mut self.ordered);
        let mean_time =
            self.points.iter().map(|(time_s, _)| time_s).sum::<f64>() / self.points.len() as f64;
        let spread = self
            .points
            .iter()
            .map(|(time_s, _)| (time_s - mean_time).powi(2))
            .sum::<f64>();
        sigma / spread.sqrt()
    }
}

impl Bucket {
    fn take(&mut self, up: Duration, value: f64) {
        self.sum_time_s += up.as_secs_f64();
        self.sum_value += value;
        self.count += 1.0;
    }
}

/// A number by its place in the total order of IEEE 754-2019, 5.10: an integer, which is compared in half the time that
/// `f64::total_cmp` takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Ordered(i64);

impl Ordered {
    pub fn of(value: f64) -> Self {
        Self(turned(value.to_bits().cast_signed()))
    }

    pub fn value(self) -> f64 {
        f64::from_bits(turned(self.0).cast_unsigned())
    }
}

/// Of a negative number all bits but the sign: the larger they are, the smaller it is.
fn turned(bits: i64) -> i64 {
    bits ^ ((bits >> 63) & i64::MAX)
}

/// The Theil–Sen slope of points (x, y): the median of the slopes of all pairs with different x; none
/// without such a pair. `slopes` is scratch space, one place a pair.
pub fn theil_sen(points: &[(f64, f64)], slopes: &mut Vec<Ordered>) -> Option<f64> {
    slopes.clear();
    let all_differ = points.windows(2).all(|two| two[0].0 < two[1].0);
    for (index, (x_1, y_1)) in points.iter().enumerate() {
        let later = points[index + 1..].iter();
        let slope = |(x_2, y_2): &(f64, f64)| Ordered::of((y_2 - y_1) / (x_2 - x_1));
        match all_differ {
            true => slopes.extend(later.map(slope)),
            false => {
                let apart = later.filter(|(x_2, _)| x_2.total_cmp(x_1).is_ne());
                slopes.extend(apart.map(slope));
            }
        }
    }
    (!slopes.is_empty()).then(|| median(slopes))
}

/// The median; of an even count, the mean of the two in the middle. The order of `values` changes.
pub fn median(values: &mut [Ordered]) -> f64 {
    let middle = values.len() / 2;
    let even = values.len().is_multiple_of(2);
    let (below, upper, _) = values.select_nth_unstable(middle);
    let upper = upper.value();
    match below.iter().max().filter(|_| even) {
        Some(lower) => f64::midpoint(lower.value(), upper),
        None => upper,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn a_steady_fill_is_found_through_wild_points() {
        let mut window = RateWindow::new(Duration::from_secs(1));
        for second in 0..300_u32 {
            let wild = if second % 50 < 5 { 4.0 } else { 0.0 };
            window.add(
                Duration::from_secs(second.into()),
                1.0 + 0.002 * f64::from(second) + wild,
            );
        }
        let rate = window.rate().expect("a full window has a rate");
        assert_relative_eq!(rate.per_second, 0.002, max_relative = 0.02);
    }

    #[test]
    fn too_few_points_give_no_rate() {
        let mut window = RateWindow::new(Duration::from_secs(1));
        for second in 0..20 {
            window.add(Duration::from_secs(second), 1.0);
        }
        assert_eq!(window.rate(), None);
    }

    #[test]
    fn the_median_of_an_even_count_is_the_middle() {
        assert_relative_eq!(median(&mut [4.0, 1.0, 3.0, 2.0].map(Ordered::of)), 2.5);
        assert_relative_eq!(median(&mut [3.0, 1.0, 2.0].map(Ordered::of)), 2.0);
    }

    #[test]
    fn integers_stand_in_the_order_of_their_numbers() {
        let numbers = [
            f64::NEG_INFINITY,
            -1e300,
            -1.0,
            -5e-324,
            -0.0,
            0.0,
            5e-324,
            1.0,
            1e300,
            f64::INFINITY,
            f64::NAN,
        ];
        for (a, b) in numbers.iter().zip(&numbers[1..]) {
            assert!(Ordered::of(*a) < Ordered::of(*b), "{a} {b}");
            assert_eq!(Ordered::of(*a).value().to_bits(), a.to_bits());
        }
    }
}
