package cure

import (
	"fmt"
	"math/big"
	"strings"

	"flitchbook/planner/unit"
)

// The bounds of the house rule on weighing curing salt.
const (
	Tolerance   = 10 * unit.Percent    // a weigh-out may be this far off its ticket
	CheckWeight = 5 * unit.Gram        // the weight a scale is checked with
	CheckSlack  = unit.Gram / 10       // and how far off it may read
	maxReading  = 1000 * unit.Gram     // more curing salt than any slab, or any scale of that step
	readingWant = "such as 4.7 or 5.0" // the form asked for
)

// A Scale is a scale as it stands on the day.
type Scale struct {
	Name    string
	Step    unit.Weight
	Checked unit.Day    // day of the last check with the 5 g weight
	Reading unit.Weight // what it read then
}

// ScaleCheckPasses says whether a scale that shows reading for the 5 g weight may
// be used that day: 4.9 to 5.1 g.
func ScaleCheckPasses(reading unit.Weight) bool {
	return reading >= CheckWeight-CheckSlack && reading <= CheckWeight+CheckSlack
}

// Ready says why the scale may not weigh curing salt today, or is nil.
func (s Scale) Ready(today unit.Day) error {
	if err := stepFine(s.Step); err != nil {
		return err
	}
	if s.Checked != today || today == 0 {
		return refuse("scale %s was not checked with the 5 g weight on %s: check it first", s.Name, today.Show())
	}
	if !ScaleCheckPasses(s.Reading) {
		return refuse("scale %s read %s for the 5 g weight, outside 4.9 to 5.1 g: it may not weigh curing salt", s.Name, s.Reading.G(2))
	}
	return nil
}

// ParseReading reads curing salt as the scale shows it, with one decimal and in
// grams: "4.7", "5.0 g". A whole number is refused, because it may come from a
// scale that cannot see the difference, and so is a comma.
func ParseReading(text string) (unit.Weight, error) {
	t := strings.TrimSpace(text)
	if strings.ContainsRune(t, ',') {
		return 0, refuse("%q has a comma: write a point before the decimal, %s", t, readingWant)
	}
	n := strings.TrimSpace(strings.TrimSuffix(t, "g"))
	whole, decimals, dotted := strings.Cut(n, ".")
	if digits(whole) && !dotted {
		return 0, refuse("%q has no decimal: read curing salt to 0.1 g, %s", t, readingWant)
	}
	if !digits(whole) || !digits(decimals) {
		return 0, refuse("%q is not a weight in grams, %s", t, readingWant)
	}
	if len(decimals) != 1 {
		return 0, refuse("%q has %d decimals: read curing salt to one, %s", t, len(decimals), readingWant)
	}
	w, err := unit.ParseWeightIn(n, unit.Gram)
	if err != nil {
		return 0, refuse("%q is not a weight in grams, %s", t, readingWant)
	}
	if w > maxReading {
		return 0, refuse("%s is more curing salt than any slab takes", w.G(1))
	}
	return w, nil
}

func digits(s string) bool {
	return s != "" && strings.IndexFunc(s, func(r rune) bool { return r < '0' || r > '9' }) < 0
}

// ParseReadings reads one reading a lot, joined by plus signs: "3.0 + 1.7".
func ParseReadings(text string, lots int) ([]unit.Weight, error) {
	fields := strings.Split(text, "+")
	if len(fields) != lots {
		if lots == 1 {
			return nil, refuse("%q is more than 1 weight, and the ticket has 1 lot of curing salt", text)
		}
		return nil, refuse("%q does not give %d weights for the ticket's %d lots of curing salt: write them in its order as 3.0 + 1.7", text, lots, lots)
	}
	out := make([]unit.Weight, len(fields))
	for i, f := range fields {
		w, err := ParseReading(f)
		if err != nil {
			return nil, err
		}
		out[i] = w
	}
	return out, nil
}

// CheckWeighOut says whether the curing salt that was weighed out may go onto the
// ticket's slab. entered is what was typed: one reading, or one a lot in the
// ticket's order joined by plus signs. It stops when the scale is not fit, when the
// text cannot be a reading of it, when the total is more than 10 % off the ticket,
// and when the nitrite lies outside the limit or its floor. Both ways out are the
// same: scrape the cure off, weigh again; both weigh-outs stay on record.
func CheckWeighOut(t Ticket, entered string, s Scale, today unit.Day) Verdict {
	if err := s.Ready(today); err != nil {
		return block("%v", err)
	}
	readings, err := ParseReadings(entered, len(t.Parts))
	if err != nil {
		return block("%v", err)
	}
	doses := make([]Dose, len(readings))
	var got unit.Weight
	for i, w := range readings {
		doses[i] = Dose{Lot: t.Parts[i].Lot, Weight: w}
		got += w
	}
	if t.CuringSalt <= 0 {
		return block("the ticket asks for %s of curing salt: it is no ticket", t.CuringSalt.G(1))
	}
	v := t.judge(doses, s.Step)
	l := t.Recipe.Limit
	limits := fmt.Sprintf("%s to %s", l.Floor, l.Max)
	if l.Counted != SodiumNitrite {
		limits += " as " + string(l.Counted)
	}
	off, side := got-t.CuringSalt, "over"
	if off < 0 {
		off, side = -off, "under"
	}
	far := weight(off).Cmp(mul(weight(t.CuringSalt), ratio(Tolerance))) > 0
	how := fmt.Sprintf("%s is %s %s the ticket's %s", got.G(1), pct(off, t.CuringSalt), side, t.CuringSalt.G(1))
	switch {
	case far && v.Answer == Block:
		return Verdict{Answer: Block, PPM: v.PPM, Reasons: []string{fmt.Sprintf(
			"stop: %s, and %s; scrape it off and weigh again", how, v.Reason())}}
	case far:
		return Verdict{Answer: Block, PPM: v.PPM, Reasons: []string{fmt.Sprintf(
			"stop: %s, more than %s (it would be %s, allowed %s); scrape it off and weigh again", how, Tolerance, v.PPM.Show(), limits)}}
	case v.Answer == Block:
		return Verdict{Answer: Block, PPM: v.PPM, Reasons: []string{fmt.Sprintf(
			"stop: %s with %s on the ticket: %s; scrape it off and weigh again", got.G(1), t.CuringSalt.G(1), v.Reason())}}
	}
	v.Reasons = append([]string{fmt.Sprintf("%s for a ticket of %s, %s", got.G(1), t.CuringSalt.G(1), v.PPM.Show())}, v.Reasons...)
	return v
}

// pct writes part ÷ whole in per cent to a tenth, or further where a tenth would
// read as exactly the tolerance.
func pct(part, whole unit.Weight) string {
	r := mul(weight(part), big.NewRat(100, int64(whole)))
	tenth := r.FloatString(1)
	if tenth == "10.0" && r.Cmp(big.NewRat(10, 1)) != 0 {
		return r.FloatString(3) + " %"
	}
	return tenth + " %"
}
