package cure

import (
	"math"

	"flitchbook/planner/unit"
)

// SaltModel labels every figure of this file on screen and paper. It is about salt
// and says nothing about nitrite, which travels far more slowly on its own.
const SaltModel = "salt, model"

// Diffusivities in m²/s.
const (
	// SaltSlow is sodium chloride in pork loin at 5 °C, (1.90 ± 0.28)·10⁻¹⁰:
	// "Influence of Brine Concentration on Moisture and NaCl Transport During Meat
	// Salting", 2015. The cautious one.
	SaltSlow = 1.90e-10
	// SaltQuick is the low end of 3–7·10⁻¹⁰ by magnetic resonance: Meat Science
	// 80:851–856, 2008.
	SaltQuick = 3.0e-10
)

// GasConstant in J/(mol·K), CODATA.
const GasConstant = 8.314462

// MMPerInch is exact.
const MMPerInch = 25.4

// DaySeconds is the length of a counted cure day.
const DaySeconds = 86400.0

// Arrhenius carries a diffusivity d, known at from, to another temperature, with
// the activation energy in J/mol: D·exp(−E/R·(1/T − 1/T₀)).
func Arrhenius(d float64, from, to unit.Temp, activation float64) float64 {
	const zero = 273.15
	return d * math.Exp(-activation/GasConstant*(1/(to.C()+zero)-1/(from.C()+zero)))
}

// Path is the way in metres that salt has to go in a slab of the given thickness in
// millimetres: half of it, or all of it where skin seals one face.
func Path(thicknessMM float64, skinOn bool) float64 {
	if skinOn {
		return thicknessMM / 1000
	}
	return thicknessMM / 2000
}

// A Spell is a stretch of days at one diffusivity; frozen meat has none.
type Spell struct{ Days, Diffusivity float64 }

// Fo is the Fourier number of a path in metres over the spells: Σ D·t ÷ L².
func Fo(path float64, spells ...Spell) float64 {
	sum := 0.0
	for _, s := range spells {
		sum += s.Diffusivity * s.Days * DaySeconds
	}
	return sum / (path * path)
}

// Days is the time to reach a Fourier number at one diffusivity: Fo·L² ÷ D.
func Days(fo, path, diffusivity float64) float64 {
	return fo * path * path / diffusivity / DaySeconds
}

const (
	early    = 0.02  // below this Fo the centre has seen nothing, and the series is slow
	smallest = 1e-12 // last term of a series
)

// ConstantCentre is the salt at the centre over that at the face, for a face that
// never weakens (Crank): 1 − (4/π) Σ (−1)ⁿ/(2n+1)·exp(−(2n+1)²π²Fo/4). The cautious
// bound. Below Fo 0.02 it is 0.
func ConstantCentre(fo float64) float64 {
	if fo < early {
		return 0
	}
	sum, sign := 0.0, 1.0
	for m := 1.0; ; m += 2 {
		term := math.Exp(-m*m*math.Pi*math.Pi*fo/4) / m
		sum += sign * term
		sign = -sign
		if term < smallest {
			return 1 - 4/math.Pi*sum
		}
	}
}

// ConstantMean is the mean salt over that at the face, for a face that never
// weakens: 1 − (8/π²) Σ exp(−(2n+1)²π²Fo/4)/(2n+1)².
func ConstantMean(fo float64) float64 {
	if fo <= 0 {
		return 0
	}
	if fo < early {
		// The slab is still as good as endless: 2·√(Fo/π), right to 10⁻¹⁰ here.
		return 2 * math.Sqrt(fo/math.Pi)
	}
	sum := 0.0
	for m := 1.0; ; m += 2 {
		term := math.Exp(-m*m*math.Pi*math.Pi*fo/4) / (m * m)
		sum += term
		if term < smallest {
			return 1 - 8/(math.Pi*math.Pi)*sum
		}
	}
}

// FiniteCentre is the salt at the centre over the mean when the whole dose lay on
// the faces at the start and none leaves, as in a sealed bag:
// 1 + 2 Σ (−1)ⁿ exp(−n²π²Fo). Below Fo 0.02 it is 0. The mean is always 1.
func FiniteCentre(fo float64) float64 {
	if fo < early {
		return 0
	}
	sum, sign := 0.0, -1.0
	for n := 1.0; ; n++ {
		term := math.Exp(-n * n * math.Pi * math.Pi * fo)
		sum += sign * term
		sign = -sign
		if term < smallest {
			return max(0, 1+2*sum)
		}
	}
}

// FoFor returns the Fourier number at which a rising curve of this file reaches
// level, above 0 and under 1; outside it returns NaN.
func FoFor(curve func(fo float64) float64, level float64) float64 {
	if !(level > 0 && level < 1) {
		return math.NaN()
	}
	low, high := 0.0, 1.0
	for curve(high) < level {
		high *= 2
		if high > 1e3 {
			return math.NaN() // nearer to 1 than the series can tell
		}
	}
	for high-low > 1e-12 {
		mid := (low + high) / 2
		if curve(mid) < level {
			low = mid
		} else {
			high = mid
		}
	}
	return high
}

// A Picture is how far salt has come, by the model.
type Picture struct {
	Label          string // SaltModel
	Fo             float64
	FiniteCentre   float64 // of what the slab will even out to
	ConstantCentre float64
	ConstantMean   float64
}

// Salt draws the picture for a slab of the thickness in millimetres at its
// thickest point.
func Salt(thicknessMM float64, skinOn bool, spells ...Spell) Picture {
	fo := Fo(Path(thicknessMM, skinOn), spells...)
	return Picture{SaltModel, fo, FiniteCentre(fo), ConstantCentre(fo), ConstantMean(fo)}
}

// Thickness in millimetres of a slab of weight w on a face of the given sides in
// millimetres, at a density in kg/m³.
func Thickness(w unit.Weight, lengthMM, widthMM, density float64) float64 {
	return w.Grams() / (lengthMM * widthMM * density) * 1e6
}

// BellyDensity in kg/m³ of an average raw belly: a mix rule on its water, fat and
// protein. Lean pork is 1051.
const BellyDensity = 985
