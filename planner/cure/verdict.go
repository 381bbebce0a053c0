package cure

import (
	"fmt"
	"math/big"
	"strings"

	"flitchbook/planner/unit"
)

// An Answer is what may happen next.
type Answer string

// OK goes on, Warn goes on with a person's eyes open, Block stops.
const (
	OK    Answer = "ok"
	Warn  Answer = "warn"
	Block Answer = "block"
)

// A Verdict is an answer with its reasons, in words and numbers, the reasons for
// the answer first. There is always at least one.
type Verdict struct {
	Answer  Answer
	Reasons []string
	PPM     PPM // nitrite in, on the meat under the skin; 0 where it was not reckoned
}

// Reason is all reasons as one text.
func (v Verdict) Reason() string { return strings.Join(v.Reasons, "; ") }

func block(format string, a ...any) Verdict {
	return Verdict{Answer: Block, Reasons: []string{fmt.Sprintf(format, a...)}}
}

// add records a finding; the worst answer wins and its reasons lead.
func (v *Verdict) add(a Answer, format string, args ...any) {
	s := fmt.Sprintf(format, args...)
	switch {
	case rank(a) > rank(v.Answer):
		v.Answer, v.Reasons = a, append([]string{s}, v.Reasons...)
	default:
		v.Reasons = append(v.Reasons, s)
	}
}

func rank(a Answer) int {
	switch a {
	case OK:
		return 1
	case Warn:
		return 2
	case Block:
		return 3
	}
	return 0
}

// Judge says whether the doses may go onto the slab under the limit. step is the
// step of the scale they are weighed on; where half a step could carry the nitrite
// over the limit the answer is at least Warn. Nitrite under the policy floor is a
// warning here; a ticket or a weigh-out under it is stopped.
func Judge(l Limit, s Slab, step unit.Weight, doses ...Dose) Verdict {
	if v, bad := unfit(l, s, doses); bad {
		return v
	}
	least := l.SkinRule.Least
	slack := whole(0)
	for _, d := range doses {
		slack = slack.plus(whole(int64(step)).times(int64(d.Nitrite)))
	}
	v := judge(l, nitriteOn(s, least, doses), onMeat(slack.over(2), s, least), onMeat(nitrateOf(doses), s, least))
	if skin := s.skin(least); skin > 0 {
		v.Reasons = append(v.Reasons, fmt.Sprintf("skin on: reckoned on %s, %s of %s", s.Basis(l.SkinRule).G(1), (unit.One-skin).String(), s.Green.G(0)))
	}
	return v
}

func weightOf(r *big.Rat) unit.Weight { return unit.Weight(round(r)) }

// unfit blocks on figures that cannot be judged at all.
func unfit(l Limit, s Slab, doses []Dose) (Verdict, bool) {
	if err := l.Check(); err != nil {
		return block("%v", err), true
	}
	if s.Green <= 0 {
		return block("the slab has no weight (%s)", s.Green.G(0)), true
	}
	if s.Skin < 0 || s.Skin >= unit.One {
		return block("skin cannot be %s of a slab", s.Skin), true
	}
	if s.Skin > 0 && !s.SkinOn {
		return block("the skin was measured at %s of a slab that is marked skinless", s.Skin), true
	}
	for _, d := range doses {
		if d.Weight < 0 {
			return block("curing salt cannot weigh %s", d.Weight.G(1)), true
		}
		if d.Nitrite < 0 || d.Nitrate < 0 || d.Nitrite+d.Nitrate > unit.One {
			return block("curing salt lot %q cannot hold %s nitrite and %s nitrate", d.ID, d.Nitrite, d.Nitrate), true
		}
	}
	return Verdict{}, false
}

// judge compares exact levels in mg/kg of sodium nitrite and nitrate with the limit.
func judge(l Limit, level, slack, nitrate frac) Verdict {
	v := Verdict{Answer: OK, PPM: PPM(level.times(int64(MgPerKg)).round())}
	if nitrate.cmp(l.Nitrate.frac()) > 0 {
		if l.Nitrate == 0 {
			v.add(Block, "the curing salt holds nitrate (%s), and none may be used in %s", show(nitrate), l.Product)
		} else {
			v.add(Block, "%s of nitrate is over the limit of %s", show(nitrate), l.Nitrate)
		}
	}
	if l.Basis == ResidualBasis {
		v.add(Warn, "the limit of %s is on what is left in the finished product; %s put in does not prove it", l.Max, show(level))
		return v
	}
	counted, slack := l.counts(level), l.counts(slack)
	as := ""
	if l.Counted != SodiumNitrite {
		as = " as " + string(l.Counted)
	}
	high := counted.plus(slack)
	switch {
	case counted.cmp(l.Max.frac()) > 0:
		v.add(Block, "%s%s is over the limit of %s", show(counted), as, l.Max)
	case l.Target != 0 && counted.cmp(l.Floor.frac()) < 0:
		v.add(Block, "%s%s is under %s, the least the rule's %s may be missed by", show(counted), as, l.Floor, l.Target)
	case l.Target != 0 && counted.cmp(l.Target.frac()) != 0:
		v.add(Warn, "%s%s is not the %s the rule names, though inside %s to %s", show(counted), as, l.Target, l.Floor, l.Max)
	case counted.cmp(l.Floor.frac()) < 0:
		v.add(Warn, "%s%s is below the policy floor of %s", show(counted), as, l.Floor)
	case high.cmp(l.Max.frac()) > 0:
		v.add(Warn, "%s%s may be as much as %s by the step of the scale, over the limit of %s", show(counted), as, show(high), l.Max)
	default:
		v.add(OK, "%s%s is within %s to %s", show(counted), as, l.Floor, l.Max)
	}
	return v
}

// show writes an exact figure to a tenth, or further where a tenth would hide on
// which side of a round limit it lies.
func show(r frac) string {
	for places := 1; places <= 6; places++ {
		if s, hides := r.decimal(places); !hides || places == 6 {
			return s + " ppm"
		}
	}
	panic("unreachable")
}
