package demand

import (
	"fmt"
	"math"
	"slices"

	"flitchbook/planner/unit"
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

var methodWords = [...]string{Additive: "additive", MeanRatio: "mean ratio", RatioOfSums: "ratio of sums"}

func (m Method) String() string { return methodWords[m] }

// MarshalText writes "additive", "mean ratio" or "ratio of sums".
func (m Method) MarshalText() ([]byte, error) { return []byte(m.String()), nil }

// UnmarshalText reads what MarshalText writes.
func (m *Method) UnmarshalText(b []byte) error {
	for i, w := range methodWords {
		if string(b) == w {
			*m = Method(i)
			return nil
		}
	}
	return &unit.ParseError{Want: `one of "additive", "mean ratio", "ratio of sums"`, Got: string(b)}
}

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
	errs := m.pastErrors(history)
	if errs == nil {
		return math.NaN()
	}
	var sum float64
	for _, e := range errs {
		sum += math.Abs(e)
	}
	return sum / float64(len(errs))
}

// pastErrors are final − forecast of each past class, forecast from the others; nil for
// fewer than two.
func (m Method) pastErrors(history []Past) []float64 {
	if len(history) < 2 {
		return nil
	}
	var errs []float64
	for i, h := range history {
		others := append(append([]Past{}, history[:i]...), history[i+1:]...)
		f, _ := m.Final(others, h.OnHand)
		errs = append(errs, float64(h.Final)-f)
	}
	return errs
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
	// Low and High are the band the class may end in: forecast plus the worst misses of
	// the past on either side, within the seats there are and not under what is sold
	// when nobody has ever let go on balance. Without two earlier classes they are the
	// whole room.
	Low, High int
	// Cover is how often such a band holds: of n misses as likely in any order, the next
	// falls between the smallest and the largest (n − 1) ÷ (n + 1) of the time. 0 when
	// there is no band.
	Cover  unit.Ratio
	Error  float64 // mean miss of the past, each class forecast from the others; 0 without a band
	Method Method
	Why    string
}

// Expect forecasts a class by the additive method, the shop's own.
func Expect(history []Past, onHand, seats int) Forecast {
	return Additive.Expect(history, onHand, seats)
}

// Expect forecasts a class. It caps at the seats there are and says so, and says when
// sold-out history hides how many more would have come.
func (m Method) Expect(history []Past, onHand, seats int) Forecast {
	final, ok := m.Final(history, onHand)
	if !ok {
		return Forecast{Seats: seats, Final: float64(seats), Guess: true, Low: min(onHand, seats), High: seats, Method: m,
			Why: fmt.Sprintf("no earlier class to go by: counted as full, %d", seats)}
	}
	f := Forecast{Final: final, Method: m, High: seats}
	lost := false
	for _, h := range history {
		f.Hidden = f.Hidden || h.Seats > 0 && h.Final >= h.Seats
		lost = lost || h.Final < h.OnHand
	}
	// A hair of rounding noise in the mean must not buy another slab.
	f.Seats = min(max(int(math.Ceil(final-1e-9)), 0), seats)
	f.band(m.pastErrors(history), onHand, seats, lost)
	sign, gain := "+", final-float64(onHand)
	if gain < 0 {
		sign, gain = "−", -gain
	}
	f.Why = fmt.Sprintf("%d on hand %s %.1f, the mean of %d earlier = %.1f", onHand, sign, gain, len(history), final)
	if m != Additive {
		f.Why = fmt.Sprintf("%d on hand, by the %s of %d earlier = %.1f", onHand, m, len(history), final)
	}
	if final > float64(seats) {
		f.Unmet = final - float64(seats)
		f.Why += fmt.Sprintf(", held to %d seats: %.1f would be turned away", seats, f.Unmet)
	}
	if f.Hidden {
		f.Why += "; some of them were sold out, so more may want to come"
	}
	return f
}

func (f *Forecast) band(errs []float64, onHand, seats int, lost bool) {
	if !lost {
		f.Low = min(onHand, seats)
	}
	if errs == nil {
		return
	}
	n := len(errs)
	for _, e := range errs {
		f.Error += math.Abs(e) / float64(n)
	}
	lo, hi := slices.Min(errs), slices.Max(errs)
	f.Low = min(max(int(math.Floor(f.Final+lo+1e-9)), f.Low), seats)
	f.High = min(max(int(math.Ceil(f.Final+hi-1e-9)), f.Low), seats)
	f.Cover = unit.Ratio(unit.MulDiv(int64(n-1), int64(unit.One), int64(n+1), unit.HalfUp))
}

// Band is the band in words: "between 7 and 10, 67 % of the time"; "" without one.
func (f Forecast) Band() string {
	if f.Cover == 0 {
		return ""
	}
	return fmt.Sprintf("between %d and %d, %s of the time", f.Low, f.High, f.Cover.Pct(0))
}
