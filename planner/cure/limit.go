package cure

import (
	"errors"
	"fmt"

	"flitchbook/planner/unit"
)

// A Method is how cure gets into the meat.
type Method string

// The methods of curing.
const (
	Dry       Method = "dry"
	Immersion Method = "immersion"
	Pumped    Method = "pumped"
)

// A Basis says what a limit counts.
type Basis string

// Ingoing nitrite is reckoned from what was weighed in; residual nitrite is
// measured in the finished product, so no ticket can prove it.
const (
	IngoingBasis  Basis = "ingoing"
	ResidualBasis Basis = "residual"
)

// A ReadHow says how well a figure was checked against its source.
type ReadHow string

// From best to worst. Check anything but Read against the official text.
const (
	Read      ReadHow = "read"
	ReadTwice ReadHow = "read where another page quotes it"
	Memory    ReadHow = "from memory"
	Proposed  ReadHow = "proposed here"
)

// A SkinRule says what share of a skin-on slab counts as skin. The measured share
// is used where it is larger.
type SkinRule struct {
	Least   unit.Ratio
	Source  string
	ReadHow ReadHow
}

// A Limit is one legal limit on nitrite, as data the shop can change. The shop's
// written plan, its inspector and the local code decide which applies.
type Limit struct {
	ID       string
	Place    string
	Product  string
	Method   Method
	Basis    Basis
	Counted  Compound
	Max      PPM
	Floor    PPM // a policy floor; 0 = none
	Target   PPM // where the rule names one figure; then Floor and Max are its tolerance
	Nitrate  PPM // most sodium nitrate; 0 = none may be used
	SkinRule SkinRule
	Also     string // what the rule asks besides, which no reckoning here can see

	Source     string
	ReadHow    ReadHow
	ApprovedBy string // who in the shop agreed it with whom, and when
}

// Check reports a limit that cannot be judged by.
func (l Limit) Check() error {
	switch {
	case l.Max <= 0:
		return fmt.Errorf("limit %q has no maximum", l.ID)
	case l.Floor < 0 || l.Floor > l.Max:
		return fmt.Errorf("limit %q has its floor of %s over its maximum of %s", l.ID, l.Floor, l.Max)
	case l.Target != 0 && (l.Target < l.Floor || l.Target > l.Max):
		return fmt.Errorf("limit %q has its target of %s outside %s to %s", l.ID, l.Target, l.Floor, l.Max)
	case l.SkinRule.Least < 0 || l.SkinRule.Least >= unit.One:
		return fmt.Errorf("limit %q counts %s of a slab as skin", l.ID, l.SkinRule.Least)
	case l.Nitrate < 0:
		return fmt.Errorf("limit %q has a negative nitrate limit", l.ID)
	}
	if _, nitrite := l.Counted.molar(); !nitrite {
		return fmt.Errorf("limit %q does not say which nitrite it counts", l.ID)
	}
	if l.Source == "" {
		return errors.New("a limit needs its source")
	}
	return nil
}

// USDryBacon is the limit the house ticket is made under.
func USDryBacon() Limit {
	return Limit{
		ID: "us-bacon-dry", Place: "United States", Product: "bacon", Method: Dry,
		Basis: IngoingBasis, Counted: SodiumNitrite, Max: 200 * MgPerKg, Floor: 120 * MgPerKg, SkinRule: usSkin(),
		Source:  "9 CFR 424.22(b)(3); floor: FSIS Directive 7620.3 p. 12, keep-refrigerated cured products",
		ReadHow: ReadTwice,
	}
}

func usSkin() SkinRule {
	return SkinRule{Least: LeastSkin, Source: "FSIS Directive 7620.3, skin-on belly", ReadHow: ReadTwice}
}

// Limits lists the limits known, United States dry-cured bacon first. Nobody has
// approved them: a shop copies the one it works under and fills in ApprovedBy.
func Limits() []Limit {
	const ascorbate = "550 ppm of ascorbate or erythorbate"
	// No skin rule is known outside the United States; the US share is used because
	// it only ever lowers the dose.
	skin := SkinRule{Least: LeastSkin, Source: "the US handbook's share, as a caution", ReadHow: Proposed}
	bacon := func(id, place string, m Method, max, floor, target PPM, source string, how ReadHow) Limit {
		return Limit{ID: id, Place: place, Product: "bacon", Method: m, Basis: IngoingBasis, Counted: SodiumNitrite,
			Max: max * MgPerKg, Floor: floor * MgPerKg, Target: target * MgPerKg, SkinRule: skin, Source: source, ReadHow: how}
	}
	us := func(id string, m Method, max, floor, target PPM, also, source string) Limit {
		l := bacon(id, "United States", m, max, floor, target, source, ReadTwice)
		l.SkinRule, l.Also = usSkin(), also
		return l
	}
	euResidual := bacon("eu-dry-residual", "European Union before October 2025; United Kingdom", Dry, 175, 0, 0,
		"UK SI 2007/1778 schedule 1 (dry-cured bacon); EFSA Journal 2017;15(6):4786 table 5 (Wiltshire)", Read)
	euResidual.Basis = ResidualBasis
	euIon := bacon("eu-added-ion", "European Union from 9 October 2025", Dry, 80, 0, 0,
		"Regulation (EU) 2023/2108 annex", Memory)
	euIon.Counted, euIon.Also = NitriteIon, "a residual limit besides"
	return []Limit{
		USDryBacon(),
		us("us-bacon-immersion", Immersion, 120, 0, 0, "", "9 CFR 424.22(b)(2)"),
		us("us-bacon-pumped", Pumped, 144, 96, 120, ascorbate,
			"9 CFR 424.22(b)(1); tolerance of 20 %: FSIS Directive 7620.3 as a former inspector quotes it, weak"),
		us("us-bacon-pumped-a", Pumped, 100, 0, 100, ascorbate, "9 CFR 424.22(b)(1)(ii)(A)"),
		us("us-bacon-pumped-b", Pumped, 80, 40, 0, ascorbate+", at least 0.7 % sugar and a lactic starter",
			"9 CFR 424.22(b)(1)(ii)(B)"),
		bacon("eu-added-salt", "European Union before October 2025", Dry, 150, 0, 0, "EFSA Journal 2017;15(6):4786 table 5", Read),
		euResidual,
		euIon,
		bacon("ca-side-bacon", "Canada", Dry, 120, 100, 0, "CFIA Meat Hygiene Manual chapter 4, definitions, as reprinted", ReadTwice),
	}
}
