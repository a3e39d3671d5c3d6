//! A smooth function that is not negative and an interval in, its integral out.

/// Positive nodes of the 15-point Kronrod rule on [−1, 1], the outermost first, and the middle.
const NODES: [f64; 8] = [
    0.991_455_371_120_812_6,
    0.949_107_912_342_758_5,
    0.864_864_423_359_769_1,
    0.741_531_185_599_394_4,
    0.586_087_235_467_691_1,
    0.405_845_151_377_397_2,
    0.207_784_955_007_898_47,
    0.0,
];
/// Their weights.
const KRONROD: [f64; 8] = [
    0.022_935_322_010_529_224,
    0.063_092_092_629_978_55,
    0.104_790_010_322_250_18,
    0.140_653_259_715_525_92,
    0.169_004_726_639_267_9,
    0.190_350_578_064_785_4,
    0.204_432_940_075_298_9,
    0.209_482_141_084_727_82,
];
/// Weights of the embedded 7-point Gauss rule, at every second node.
const GAUSS: [f64; 4] = [
    0.129_484_966_168_869_7,
    0.279_705_391_489_276_64,
    0.381_830_050_505_118_9,
    0.417_959_183_673_469_4,
];

/// Integral of `f` from `low` to `high`, to about 1e-14 of itself, by halving intervals until two
/// rules agree.
///
/// Source: Piessens et al., *QUADPACK* (1983), rule of 7 and 15 points.
pub(crate) fn integrate_between(f: &impl Fn(f64) -> f64, low: f64, high: f64) -> f64 {
    let mut open = vec![(low, high, 0_u32)];
    let mut sum = 0.0;
    let scale = rules(f, low, high).0;
    while let Some((a, b, depth)) = open.pop() {
        let (fine, coarse) = rules(f, a, b);
        let middle = 0.5 * (a + b);
        // the coarse rule's error is the square root of the fine rule's, about
        if depth >= 40
            || depth >= 2 && (fine - coarse).abs() <= 1e-9 * (fine + 1e-6 * (sum + scale))
        {
            sum += fine;
        } else {
            open.push((a, middle, depth + 1));
            open.push((middle, b, depth + 1));
        }
    }
    sum
}

/// The integral by 15 and by 7 points.
fn rules(f: &impl Fn(f64) -> f64, a: f64, b: f64) -> (f64, f64) {
    let (centre, half) = (0.5 * (a + b), 0.5 * (b - a));
    let middle = f(centre);
    let mut fine = KRONROD[7] * middle;
    let mut coarse = GAUSS[3] * middle;
    for (i, node) in NODES.iter().enumerate().take(7) {
        let pair = f(centre - half * node) + f(centre + half * node);
        fine += KRONROD[i] * pair;
        if i % 2 == 1 {
            coarse += GAUSS[i / 2] * pair;
        }
    }
    (fine * half, coarse * half)
}
