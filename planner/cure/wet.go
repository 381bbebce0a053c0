package cure

import "flitchbook/planner/unit"

// PumpedIn is the nitrite that a pickle leaves in meat pumped by the given share of
// its weight: N·pump ÷ pickle (FSIS Directive 7620.3 p. 19). pickle is the weight of
// the whole pickle and must be above zero.
func PumpedIn(pickle unit.Weight, pump unit.Ratio, doses ...Dose) PPM {
	return ppmOf(per(mul(nitriteIn(doses), ratio(pump)), weight(pickle)))
}

// JudgePumped judges PumpedIn under a limit for pumped bacon.
func JudgePumped(l Limit, pickle unit.Weight, pump unit.Ratio, doses ...Dose) Verdict {
	if v, bad := unfit(l, Slab{Green: pickle}, doses); bad {
		return v
	}
	if pump <= 0 {
		return block("meat cannot be pumped by %s", pump)
	}
	share := ratio(pump)
	return judge(l, fracOf(per(mul(nitriteIn(doses), share), weight(pickle))), whole(0),
		fracOf(per(mul(nitrateIn(doses), share), weight(pickle))))
}

// Immersed is the nitrite in meat that lay in a weighed brine until both agree,
// N ÷ (meat + brine), and the ceiling if all of it went into the meat, N ÷ meat.
func Immersed(meat, brine unit.Weight, doses ...Dose) (even, ceiling PPM) {
	n := nitriteIn(doses)
	return ppmOf(per(n, weight(meat+brine))), ppmOf(per(n, weight(meat)))
}

// JudgeImmersed judges Immersed: over the limit when even blocks; where only the
// ceiling is over, the answer is Warn.
func JudgeImmersed(l Limit, meat, brine unit.Weight, doses ...Dose) Verdict {
	if v, bad := unfit(l, Slab{Green: meat}, doses); bad {
		return v
	}
	if brine < 0 {
		return block("brine cannot weigh %s", brine.G(0))
	}
	n := nitriteIn(doses)
	v := judge(l, fracOf(per(n, weight(meat+brine))), whole(0), fracOf(per(nitrateIn(doses), weight(meat))))
	ceiling := per(n, weight(meat))
	if counted, _ := convert(ceiling, SodiumNitrite, l.Counted); counted.Cmp(l.Max.rat()) > 0 {
		v.add(Warn, "if the meat took all of it up it would be %s, over the limit of %s", show(fracOf(counted)), l.Max)
	}
	return v
}
