package cure

import "math/big"

// Molar masses in units of 0.0001 g/mol, from the standard atomic weights
// Na 22.9898, K 39.0983, N 14.0067, O 15.9994.
const (
	molarNO2   = 460055
	molarNO3   = 620049
	molarNaNO2 = 689953
	molarNaNO3 = 849947
	molarKNO2  = 851038
	molarKNO3  = 1011032
)

// A Compound is a form in which a limit counts nitrite or nitrate.
type Compound string

// The forms. A limit in ions is met by more salt than the same figure in salt.
const (
	SodiumNitrite    Compound = "sodium nitrite"
	PotassiumNitrite Compound = "potassium nitrite"
	NitriteIon       Compound = "nitrite ion"
	SodiumNitrate    Compound = "sodium nitrate"
	PotassiumNitrate Compound = "potassium nitrate"
	NitrateIon       Compound = "nitrate ion"
)

func (c Compound) molar() (mass int64, nitrite bool) {
	switch c {
	case SodiumNitrite:
		return molarNaNO2, true
	case PotassiumNitrite:
		return molarKNO2, true
	case NitriteIon:
		return molarNO2, true
	case SodiumNitrate:
		return molarNaNO3, false
	case PotassiumNitrate:
		return molarKNO3, false
	case NitrateIon:
		return molarNO3, false
	}
	return 0, false
}

// Convert counts a level given in one form in another, such as 120 ppm of sodium
// nitrite in 80.015 ppm of nitrite ion. It reports false where there is no
// such conversion: nitrate is not nitrite.
func Convert(p PPM, from, to Compound) (PPM, bool) {
	r, ok := convert(p.rat(), from, to)
	if !ok {
		return 0, false
	}
	return ppmOf(r), true
}

// counts is a level of sodium nitrite in the form the limit counts.
func (l Limit) counts(level frac) frac {
	if l.Counted == SodiumNitrite {
		return level
	}
	m, _ := l.Counted.molar()
	return level.times(m).over(molarNaNO2)
}

func convert(r *big.Rat, from, to Compound) (*big.Rat, bool) {
	a, isNitriteA := from.molar()
	b, isNitriteB := to.molar()
	if a == 0 || b == 0 || isNitriteA != isNitriteB {
		return nil, false
	}
	return mul(r, big.NewRat(b, a)), true
}
