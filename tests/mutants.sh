#!/usr/bin/env bash
# Does `holdtrue prove` notice a wrong constant? Changes one in a copy of the sources, builds, runs `prove`
# and expects exit 1; one line a mutant. Takes some minutes; needs nothing but Rust, sed and cp.
#
#   tests/mutants.sh            all mutants
#   tests/mutants.sh taper      those whose check has that name
#   PROVE='cargo run -q -p holdtrue-metrology --example prove' tests/mutants.sh      quicker: without the program
set -euo pipefail

here=$(cd "$(dirname "$0")/.." && pwd)
copy=$(mktemp -d)
trap 'rm -rf "$copy"' EXIT
prove=${PROVE:-cargo run -q -p holdtrue -- prove}

only=${1:-}

# check | file | text | replaced by; m/ is host/metrology/src/
mutants='
units|host/terms/src/units.rs|4.448_221_615_260_5|4.448_22
typed quantities|host/terms/src/units.rs|NEWTONS_PER_KILOGRAM_FORCE: f64 = 9.806_65|NEWTONS_PER_KILOGRAM_FORCE: f64 = 9.81
typed quantities|host/terms/src/quantity.rs|self.unit.to_newtons(self.number)|self.number
mean and scatter|m/statistics.rs|(x.len() - 1) as f64)|x.len() as f64)
confidence interval|m/statistics.rs|t_quantile(0.5 + 0.5 \* level, n - 1.0)|t_quantile(0.5 + 0.5 * level, n)
quantiles|m/special/student.rs|0.5 \* dof,|0.51 * dof,
quantiles|m/special/noncentral_t.rs|tail(t \* s.exp() - delta)|tail(t * s.exp() - 1.001 * delta)
tolerance bound|m/statistics/tolerance.rs|noncentral_t_quantile(confidence, n - 1.0|noncentral_t_quantile(confidence, n
outlier|m/statistics/outlier.rs|t_quantile(alpha / n|t_quantile(alpha / (n + 1.0)
straight line|m/statistics.rs|let dof = (n - 2) as f64|let dof = (n - 1) as f64
polynomial|m/regression/polynomial.rs|fold(1.0,|fold(1.000001,
analysis of variance|m/anova.rs|within_dof: count - groups.len()|within_dof: count - groups.len() - 1
trend|m/trend/order.rs|/ 18.0|/ 17.0
line through visits|m/trend/line.rs|in_slope: by_apart\[i\] / spread|in_slope: 1.1 * by_apart[i] / spread
line through visits|m/trend/crossing.rs|(limit - line.level) / line.slope|(limit - line.level) / (1.01 * line.slope)
uncertainty budget|m/uncertainty.rs|Self::Rectangular => 3.0_f64|Self::Rectangular => 4.0_f64
guard|m/decision.rs|pub const RISK: f64 = 0.05|pub const RISK: f64 = 0.06
guard for few readings|m/decision.rs|MIXES_FROM_DOF: f64 = 4.0|MIXES_FROM_DOF: f64 = 1.0
conformity|m/decision.rs|1.0 - above - below|0.9 - above - below
gauge study|m/study/components.rs|(technicians \* trials) as f64|technicians as f64
interval of a mean|m/statistics.rs|stdev(x) / n.sqrt();|stdev(x) / (n - 1.0).sqrt();
coverage factors|m/special/student.rs|dof / (dof + square),|dof / (1.02 * dof + square),
load-cell deflection|m/regression.rs|residual_sum_of_squares / self.dof as f64).sqrt()|residual_sum_of_squares / (self.dof + 1) as f64).sqrt()
ill-conditioned regression|m/regression.rs|value += step|value += 1.1 * step
gauge study of ten parts|m/study/components.rs|600.0 \* variance|515.0 * variance
grip readings|m/grip/result.rs|grubbs_two_sided(&forces, 0.05)|grubbs_two_sided(\&forces, 1e-12)
force record|m/grip/window.rs|SETTLED_TO_S: f64 = 3.0|SETTLED_TO_S: f64 = 4.0
force record|m/grip/zero.rs|AFTER_FALL_S: f64 = 0.5|AFTER_FALL_S: f64 = 60.0
load-cell calibration|m/calibration/curve.rs|let factor_n = 2.4|let factor_n = 2.0
taper|m/runout/taper.rs|7.0_f64 / 48.0|7.0_f64 / 24.0
one turn|m/runout/vector.rs|{ length } else|{ 1.001 * length } else
two heights|m/runout/axis.rs|self.tilt \* 1000.0|self.tilt * 100.0
spindle and bar|m/runout/vector.rs|direction_deg.to_radians()|(0.99 * direction_deg).to_radians()
check sum|protocol/src/frame.rs|CRC_32_ISO_HDLC|CRC_32_BZIP2
byte stuffing|protocol/src/frame.rs|FRAME_END: u8 = 0|FRAME_END: u8 = 1
frame|protocol/src/frame.rs|CRC_32.digest()|CRC_32.digest_with_initial(1)
tables|host/src/grip/force_csv.rs|factor: unit.newtons(),|factor: 1.0,
tables|host/src/runout/readings_csv.rs|header("reading_in", MICROMETRES_PER_INCH)|header("reading_in", 2.54)
tables|host/src/tables/mod.rs|.read(cell, column.factor)|.read(cell, 1.0)
figures as shown|host/wording/src/digits.rs|self.force.from_newtons(newton)|newton / 1e3
figures as shown|host/terms/src/units.rs|newtons / self.newtons()|newtons * self.newtons()
counts to newtons|host/gauge/src/calibration.rs|b + x \* (c|b + x * (1.001 * c
'

# Whether a figure of the check is marked OUT: in a line below its name, or beside it.
is_out() {
    awk -v name="$1" 'index($0, "OUT " name ",") == 1 { out = 1; next }
        /^(good|OUT ) / { if (ours && /^OUT /) out = 1; next }
        { ours = index($0, name ": ") == 1 } END { exit !out }' "$copy/out"
}

(cd "$here" && git ls-files -z | xargs -0 cp --parents -t "$copy")
export CARGO_TARGET_DIR=${CARGO_TARGET_DIR:-$here/target/mutants}
cd "$copy"
survived=0
$prove > "$copy/out" || { echo "FAIL unchanged sources: expected exit 0"; exit 1; }
sed -n '/^\(good\|OUT \|ok\|[0-9 ]\)/!s/: .*//p' "$copy/out" | while read -r check; do
    grep -q "^$check|" <<< "$mutants" || echo "note: no mutant for $check"
done
while IFS='|' read -r check file text other; do
    [ -n "$check" ] || continue
    [ -z "$only" ] || [ "$only" = "$check" ] || continue
    path=${file/#m\//host/metrology/src/}
    cp "$path" original
    sed "s|$text|$other|" original > "$path"
    if cmp -s original "$path"; then
        echo "FAIL $check: $file no longer holds: $text"
        survived=1
    else
        code=0
        $prove > "$copy/out" 2>&1 || code=$?
        if [ "$code" -eq 1 ] && is_out "$check"; then
            echo "ok   $check: $file, $text"
        else
            echo "FAIL $check: $file, $text: exit $code, expected 1 and the check marked OUT"
            tail -5 "$copy/out"
            survived=1
        fi
    fi
    cp original "$path"
done <<< "$mutants"
exit "$survived"
