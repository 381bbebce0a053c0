package cure

import "math"

// LeanMoisture is the water of a lean streak of belly in per cent: salt in water is
// judged there, for fat carries no salt water (project rule). BellyMoisture is an
// average raw belly's (USDA table, from memory).
const (
	LeanMoisture  = 72.0
	BellyMoisture = 36.74
)

// Brine is salt in the water of a product, 100·S/(S + M), of salt and moisture in per
// cent of the product; 0 without salt.
func Brine(salt, moisture float64) float64 {
	if salt <= 0 {
		return 0
	}
	return 100 * salt / (salt + moisture)
}

// SaltForBrine is the salt in per cent that gives so much brine, under 100, at a moisture.
func SaltForBrine(brine, moisture float64) float64 { return brine * moisture / (100 - brine) }

// BrineOfWater is the brine of so many grams of salt to 100 g of water, as tables of
// water activity mean their per cent.
func BrineOfWater(grams float64) float64 { return 100 * grams / (100 + grams) }

// MostBrine is how far WaterActivity can be trusted; a little beyond it is still within
// 0.005 of tables.
const MostBrine = 12.0

// WaterActivity over a salt brine in per cent: 1 − 0.0052471·B − 0.00012206·B² (from
// memory; agrees with two read points, 4.5 % at 0.974 by USDA-ARS and 1 molal at
// 0.9669). Good to MostBrine.
func WaterActivity(brine float64) float64 { return 1 - 0.0052471*brine - 0.00012206*brine*brine }

// Dried is salt and moisture in per cent after a product loses a share of its weight,
// under 1, as water.
func Dried(salt, moisture, lost float64) (newSalt, newMoisture float64) {
	return salt / (1 - lost), max(0, moisture/100-lost) / (1 - lost) * 100
}

// TCS is the answer of Food Code 1-201.10: whether a food needs time and temperature
// control for safety.
type TCS string

// Assess means: treat it as one that needs control until a product assessment says else.
const (
	NonTCS TCS = "non-TCS"
	Assess TCS = "assess"
)

// Control reads Food Code 1-201.10's tables, as in Tenn. Comp. R. 0080-04-09-.01 and 25
// TAC 228.2: table A for food heated and then packed, else table B.
func Control(water, pH float64, heatedAndPacked bool) TCS {
	var limit float64 // pH up to which it is non-TCS
	switch {
	case heatedAndPacked && water <= 0.92, !heatedAndPacked && water < 0.88:
		return NonTCS
	case heatedAndPacked && water <= 0.95:
		limit = 5.6
	case heatedAndPacked:
		limit = 4.6
	case water <= 0.90:
		limit = 5.0
	case water <= 0.92:
		limit = 4.6
	default:
		limit = math.Nextafter(4.2, 0)
	}
	if pH <= limit {
		return NonTCS
	}
	return Assess
}
