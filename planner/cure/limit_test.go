package cure

import (
	"strings"
	"testing"

	"flitchbook/planner/unit"
)

// A limit that cannot be judged by stops everything, with its reason.
func TestUnsoundLimitStops(t *testing.T) {
	for want, spoil := range map[string]func(*Limit){
		"has no maximum": func(l *Limit) { l.Max = 0 },
		"its floor of 250 ppm over its maximum of 200": func(l *Limit) { l.Floor = 250 * MgPerKg },
		"its target of 90 ppm outside 120 ppm":         func(l *Limit) { l.Target = 90 * MgPerKg },
		"counts 100 % of a slab as skin":               func(l *Limit) { l.SkinRule.Least = unit.One },
		"negative nitrate":                             func(l *Limit) { l.Nitrate = -1 },
		"does not say which nitrite it counts":         func(l *Limit) { l.Counted = NitrateIon },
		"a limit needs its source":                     func(l *Limit) { l.Source = "" },
	} {
		l := USDryBacon()
		spoil(&l)
		d := dose(5.7, usual)
		for _, v := range []Verdict{
			Judge(l, bare(2270), 0, d),
			JudgePumped(l, g(2270), unit.One, d),
			JudgeImmersed(l, g(2270), 0, d),
		} {
			if v.Answer != Block || !strings.Contains(v.Reason(), want) {
				t.Errorf("%+v, want a stop with %q", v, want)
			}
		}
	}
}

func TestImpossibleFiguresStop(t *testing.T) {
	us, wet, pumped := USDryBacon(), limit(t, "us-bacon-immersion"), limit(t, "us-bacon-pumped")
	some := USDryBacon()
	some.Nitrate = 100 * MgPerKg
	for want, v := range map[string]Verdict{
		"curing salt cannot weigh -1.0 g":               Judge(us, bare(2270), 0, dose(-1, usual)),
		"cannot hold 90 % nitrite and 20 % nitrate":     Judge(us, bare(2270), 0, Dose{Lot{"C-1", 900_000, 200_000}, g(1)}),
		"meat cannot be pumped by 0 %":                  JudgePumped(pumped, g(1000), 0, dose(1, usual)),
		"brine cannot weigh -1 g":                       JudgeImmersed(wet, g(1000), g(-1), dose(1, usual)),
		"160.0 ppm is over the limit of 120 ppm":        JudgeImmersed(wet, g(1000), g(500), dose(3.84, usual)),
		"200.0 ppm of nitrate is over the limit of 100": Judge(some, bare(1000), 0, Dose{Lot{"C-2", 62_500, 80_000}, g(2.5)}),
		"96 ppm, the least the rule's 120 ppm may be":   JudgePumped(pumped, g(1000), 10*unit.Percent, dose(14, usual)),
		"as nitrite ion is over the limit of 80 ppm":    Judge(limit(t, "eu-added-ion"), bare(1000), 0, dose(1.92, usual)),
		"is on what is left in the finished product":    Judge(limit(t, "eu-dry-residual"), bare(1000), 0, dose(1.92, usual)),
		"may be as much as 204.5 ppm by the step":       Judge(us, bare(2155), unit.Gram, Dose{lot(usual), DoseFor(190*MgPerKg, g(2155), usual)}),
	} {
		if v.Answer == OK || !strings.Contains(v.Reason(), want) {
			t.Errorf("%+v, want %q", v, want)
		}
	}
}
