package demand

import (
	"fmt"
	"math"
)

// Past is one earlier class of the same kind, seen at the same number of days before.
type Past struct {
	OnHand int // seats sold then
	Final  int // seats taken in the end
	Seats  int // seats it had; 0 = not known
}

// Method is a way to forecast final seats from seats on hand.
type Method int

const (
	// Additive: final = on hand + mean(finalᵢ − on handᵢ). The one the shop uses:
	// it also says something when nothing is sold yet, and its error on small
	// classes is the smallest.
	Additive Method = iota
	// MeanRatio: final = on hand × mean(finalᵢ ÷ on handᵢ).
	MeanRatio
	// RatioOfSums: final = on hand × Σ finalᵢ ÷ Σ on handᵢ.
	RatioOfSums
)

// Final is the forecast before any cap. The multiplicative methods know nothing when
// nothing is on hand, now or in the past: they fall back to Additive. It reports
// false without history.
func (m Method) Final(history []Past, onHand int) (float64, bool) {
	if len(history) == 0 {
		return 0, false
	}
	var gain, ratios, finals, hands float64
	for _, h := range history {
		if h.OnHand == 0 {
			m = Additive
		} else {
			ratios += float64(h.Final) / float64(h.OnHand)
		}
		gain += float64(h.Final - h.OnHand)
		finals += float64(h.Final)
		hands += float64(h.OnHand)
	}
	n := float64(len(history))
	switch {
	case m == MeanRatio && onHand > 0:
		return float64(onHand) * ratios / n, true
	case m == RatioOfSums && onHand > 0:
		return float64(onHand) * finals / hands, true
	}
	return float64(onHand) + gain/n, true
}

// MeanAbsError leaves each past class out in turn and forecasts it from the others.
// It needs two classes; fewer give NaN.
func (m Method) MeanAbsError(history []Past) float64 {
	if len(history) < 2 {
		return math.NaN()
	}
	var sum float64
	for i, h := range history {
		others := append(append([]Past{}, history[:i]...), history[i+1:]...)
		f, _ := m.Final(others, h.OnHand)
		sum += math.Abs(f - float64(h.Final))
	}
	return sum / float64(len(history))
}

// Forecast is what a class is expected to fill.
type Forecast struct {
	Seats int     // to plan meat for: rounded up, between 0 and the seats there are
	Final float64 // before cap and rounding
	Unmet float64 // beyond the seats there are: people the room would turn away
	// Hidden says that past classes were sold out, so their finals hide how many
	// more would have come: the forecast is a floor.
	Hidden bool
	// Guess says there was no history and the class is counted as full.
	Guess bool
	Why   string
}

// Expect forecasts a class by the additive method.
func Expect(history []Past, onHand, seats int) Forecast {
	final, ok := Additive.Final(history, onHand)
	if !ok {
		return Forecast{Seats: seats, Final: float64(seats), Guess: true,
			Why: fmt.Sprintf("no earlier class to go by: counted as full, %d", seats)}
	}
	f := Forecast{Final: final}
	for _, h := range history {
		f.Hidden = f.Hidden || h.Seats > 0 && h.Final >= h.Seats
	}
	// A hair of rounding noise in the mean must not buy another slab.
	f.Seats = min(max(int(math.Ceil(final-1e-9)), 0), seats)
	sign, gain := "+", final-float64(onHand)
	if gain < 0 {
		sign, gain = "−", -gain
	}
	f.Why = fmt.Sprintf("%d on hand %s %.1f, the mean of %d earlier = %.1f", onHand, sign, gain, len(history), final)
	if final > float64(seats) {
		f.Unmet = final - float64(seats)
		f.Why += fmt.Sprintf(", held to %d seats: %.1f would be turned away", seats, f.Unmet)
	}
	if f.Hidden {
		f.Why += "; some of them were sold out, so more may want to come"
	}
	return f
}
