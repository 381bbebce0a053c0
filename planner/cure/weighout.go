package cure

import (
	"fmt"
	"math/big"
	"strings"

	"flitchbook/planner/unit"
)

// The bounds of the house rules on weighing.
const (
	Tolerance    = 10 * unit.Percent    // a weigh-out may be this far off its ticket
	SeatSlack    = unit.Pound / 10      // a slab may weigh this much else at the seat than at cutting
	CheckWeight  = 5 * unit.Gram        // the weight a scale is checked with
	CheckSlack   = unit.Gram / 10       // and how far off it may read
	FinishedLow  = 78 * unit.Percent    // finished weight, share of green
	FinishedHigh = 95 * unit.Percent    //
	maxReading   = 1000 * unit.Gram     // more curing salt than any slab, or any scale of that step
	readingWant  = "such as 4.7 or 5.0" // the form asked for
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
			return nil, refuse("%q is %d weights, and the ticket has one lot of curing salt", text, len(fields))
		}
		return nil, refuse("%q is %d weights, and the ticket has %d lots of curing salt: write them in the ticket's order as 3.0 + 1.7", text, len(fields), lots)
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

// CheckSeatWeight stops when a slab weighs more than 0.10 lb else at the seat than
// at cutting: it is the wrong slab or the wrong scale.
func CheckSeatWeight(cut, seat unit.Weight) Verdict {
	if cut <= 0 || seat <= 0 {
		return block("a slab cannot weigh %s at cutting and %s at the seat", cut.LB(), seat.LB())
	}
	off := max(cut-seat, seat-cut)
	if off > SeatSlack {
		return block("stop: %s at the seat and %s at cutting are %s apart, more than %s: wrong slab or wrong scale",
			seat.LB(), cut.LB(), apart(off), SeatSlack.LB())
	}
	return Verdict{Answer: OK, Reasons: []string{fmt.Sprintf("%s at the seat, %s at cutting", seat.LB(), cut.LB())}}
}

// apart writes a difference to 0.01 lb, or in grams where that would read as 0.10.
func apart(off unit.Weight) string {
	if off.LB() == SeatSlack.LB() && off != SeatSlack {
		return off.G(1)
	}
	return off.LB()
}

// CheckCup stops when the cup made for one ticket is brought to another ticket's
// slab, and says what each slab would get from the other's cup. Cups belong to
// slabs by tag, whatever their weights.
func CheckCup(cup, at Ticket) Verdict {
	if cup.Slab.Tag != "" && cup.Slab.Tag == at.Slab.Tag {
		return Verdict{Answer: OK, PPM: at.Verdict.PPM, Reasons: []string{
			fmt.Sprintf("the cup is %s's own, %s", at.Slab.Tag, at.Verdict.PPM.Show())}}
	}
	here := at.judge(cup.Parts, 0)
	there := cup.judge(at.Parts, 0)
	return Verdict{Answer: Block, PPM: here.PPM, Reasons: []string{fmt.Sprintf(
		"stop: this cup (%s of curing salt) is for %s, not for %s; swapped, %s would get %s and %s %s (allowed %s to %s)",
		cup.CuringSalt.G(1), cup.Slab.describe(), at.Slab.describe(),
		at.Slab.Green.LB(), here.PPM.Show(), cup.Slab.Green.LB(), there.PPM.Show(), at.Recipe.Limit.Floor, at.Recipe.Limit.Max)}}
}

// CheckFinished stops when finished bacon weighs less than 78 % or more than 95 %
// of its green weight: weigh again, and suspect a swapped tag.
func CheckFinished(green, finished unit.Weight) Verdict {
	if green <= 0 || finished <= 0 {
		return block("bacon cannot weigh %s from %s of belly", finished.LB(), green.LB())
	}
	share := mul(weight(finished), big.NewRat(100, int64(green)))
	low, high := mul(ratio(FinishedLow), big.NewRat(100, 1)), mul(ratio(FinishedHigh), big.NewRat(100, 1))
	text := share.FloatString(1)
	if (text == "78.0" && share.Cmp(low) < 0) || (text == "95.0" && share.Cmp(high) > 0) {
		text = share.FloatString(3)
	}
	if share.Cmp(low) < 0 || share.Cmp(high) > 0 {
		return block("stop: %s is %s %% of its green weight of %s, outside %s to %s: weigh again, and suspect a swapped tag",
			finished.LB(), text, green.LB(), FinishedLow, FinishedHigh)
	}
	return Verdict{Answer: OK, Reasons: []string{fmt.Sprintf("%s is %s %% of its green weight of %s", finished.LB(), text, green.LB())}}
}
