package demand

import (
	"math"

	"flitchbook/planner/unit"
)

// Turnout is who came of those who had registered.
type Turnout struct {
	Registered, Cancelled, Came int
}

// NoShows is how many neither cancelled nor came.
func (t Turnout) NoShows() int { return t.Registered - t.Cancelled - t.Came }

// Rate is no-shows as a share of those who had not cancelled; 0 when nobody was left.
func (t Turnout) Rate() unit.Ratio {
	stayed := t.Registered - t.Cancelled
	if stayed <= 0 {
		return 0
	}
	return unit.Ratio(unit.MulDiv(int64(t.NoShows()), int64(unit.One), int64(stayed), unit.HalfUp))
}

// RegisteredFor is how many had registered when so many no-shows were that share of
// them; 0 for a share that says nothing.
func RegisteredFor(noShows int, share unit.Ratio) int {
	if share <= 0 {
		return 0
	}
	return int(unit.MulDiv(int64(noShows), int64(unit.One), int64(share), unit.HalfUp))
}

// Overbooked is what selling more places than there are comes to. The shop never
// oversells a seat: these figures show why.
type Overbooked struct {
	All    float64 // probability that everybody comes
	Over   float64 // probability that more come than there are places
	Turned float64 // people turned away, on average
}

// Overbook reckons sold places against the places there are when each guest comes with
// probability show, each for themselves (binomial).
func Overbook(places, sold int, show float64) Overbooked {
	var o Overbooked
	if sold < 0 || sold > biggest || show < 0 || show > 1 {
		return o
	}
	for k := 0; k <= sold; k++ {
		p := binomial(sold, k, show)
		if k == sold {
			o.All = p
		}
		if k > places {
			o.Over += p
			o.Turned += p * float64(k-places)
		}
	}
	return o
}

// binomial is the probability of k of n, by logarithms so that large n do not overflow.
func binomial(n, k int, p float64) float64 {
	switch {
	case p == 0:
		return b2f(k == 0)
	case p == 1:
		return b2f(k == n)
	}
	lg := func(x int) float64 { v, _ := math.Lgamma(float64(x) + 1); return v }
	return math.Exp(lg(n) - lg(k) - lg(n-k) + float64(k)*math.Log(p) + float64(n-k)*math.Log1p(-p))
}

func b2f(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
