package mail

import (
	"embed"
	"fmt"
	"slices"
	"strings"
	"text/template"
	"time"
	"unicode"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

//go:embed texts/*.txt
var textFiles embed.FS

// texts holds one template for each kind of notice, parsed once at start: a broken one
// stops the program, not a message.
var texts = func() map[string]*template.Template {
	all := map[string]*template.Template{}
	for _, kind := range shop.NoticeKinds {
		t := template.Must(template.New(kind).Option("missingkey=error").ParseFS(textFiles, "texts/_parts.txt", "texts/"+kind+".txt"))
		if t.Lookup("subject") == nil || t.Lookup("body") == nil {
			panic("mail: texts/" + kind + ".txt lacks a subject or a body")
		}
		all[kind] = t
	}
	return all
}()

// write fills the text of a notice's kind.
func write(n shop.Notice, f shop.Facts, h House) (subject, text string, err error) {
	t, ok := texts[n.Kind]
	if !ok {
		return "", "", fmt.Errorf("there is no text for a notice of kind %q", n.Kind)
	}
	v := &view{Facts: oneLiners(f), Name: oneLine(n.ToName), House: h, due: n.DueAt}
	if n.Subject == "guest" {
		v.Total, v.Paid, v.Owes, v.Back, v.Credit = 0, 0, 0, 0, 0
	} else {
		v.Payer = true
	}
	if n.Kind == shop.NoticePickReopened {
		v.Reason, v.From = "", ""
	}
	var s, b strings.Builder
	if err := t.ExecuteTemplate(&s, "subject", v); err != nil {
		return "", "", err
	}
	if err := t.ExecuteTemplate(&b, "body", v); err != nil {
		return "", "", err
	}
	return oneLine(s.String()), b.String(), nil
}

// view is what a text sees: the facts, and words for them.
type view struct {
	shop.Facts
	Name  string // who it goes to
	Payer bool   // money may be told
	House House
	due   unit.Instant
}

// When writes a moment with its weekday on the shop's clocks.
func (v *view) When(i unit.Instant) string { return i.Show(v.House.Loc) }

// Clock writes the time of day alone; only beside a day.
func (v *view) Clock(i unit.Instant) string { return i.Clock(v.House.Loc) }

// Why is the reason as a sentence: some are typed by the owner, who may leave the full
// stop out.
func (v *view) Why() string {
	if v.Reason == "" || strings.ContainsAny(v.Reason[len(v.Reason)-1:], ".!?") {
		return v.Reason
	}
	return v.Reason + "."
}

// Weekday names the day of the week, for "see you on Saturday".
func (v *view) Weekday(i unit.Instant) string { return i.In(v.House.Loc).Weekday().String() }

// Session is the class with its day and hours: "Bacon-curing class, Sat Nov 7, 14:00–16:30".
func (v *view) Session() string {
	s := v.Class
	if v.StartsAt != 0 {
		s += ", " + v.When(v.StartsAt)
		if v.EndsAt > v.StartsAt {
			s += "–" + v.Clock(v.EndsAt)
		}
	}
	return strings.TrimPrefix(s, ", ")
}

// Seating is "2 seats", "2 seats and 1 watching seat"; "your seats" when no number is given.
func (v *view) Seating() string {
	var parts []string
	if v.Seats > 0 {
		parts = append(parts, count(v.Seats, "seat", "seats"))
	}
	if v.Watching > 0 {
		parts = append(parts, count(v.Watching, "watching seat", "watching seats"))
	}
	if len(parts) == 0 {
		return "your seats"
	}
	return strings.Join(parts, " and ")
}

// Them is "it" for one seat, else "them".
func (v *view) Them() string {
	if v.Seats+v.Watching == 1 {
		return "it"
	}
	return "them"
}

// Pounds is a weight nobody means to the ounce: "206 lb".
func (v *view) Pounds(w unit.Weight) string { return w.Number(unit.Pound, 0) + " lb" }

// Open is when the counter is open: "Tue–Sat 10:00–18:00".
func (v *view) Open() string { return openHours(v.House.Rules) }

// By is the last day of something, from Until or DueOn: "Sat Nov 28, 18:00", "today
// until 18:00", "Sat Nov 28"; "" when neither is given.
func (v *view) By() string {
	switch {
	case v.Until != 0 && v.due != 0 && v.Until.Day(v.House.Loc) == v.due.Day(v.House.Loc):
		return "today (" + v.Until.Day(v.House.Loc).Show() + ") until " + v.Clock(v.Until)
	case v.Until != 0:
		return v.When(v.Until)
	}
	return v.DueOn.Show()
}

// Beasts is "2 pigs".
func (v *view) Beasts(n int) string {
	switch v.Species {
	case "pork":
		return count(n, "pig", "pigs")
	case "lamb":
		return count(n, "lamb", "lambs")
	case "deer":
		return fmt.Sprintf("%d deer", n)
	case "beef":
		return count(n, "beef animal", "beef animals")
	}
	return count(n, "animal", "animals")
}

// Packets is "your bacon (B4-03)" or "your bacon (B4-03 and B4-04)".
func (v *view) Packets() string {
	if len(v.Tags) == 0 {
		return "your bacon"
	}
	return "your bacon (" + and(v.Tags) + ")"
}

// Firm says whether a packet has waited long: reminders begin kindly and end firmly.
func (v *view) Firm() bool { return v.Days >= 10 }

// Frozen is how many months frozen bacon keeps.
func (v *view) Frozen() string { return count(v.House.Rules.FrozenFor, "month", "months") }

// And joins words: "a, b and c".
func (v *view) And(words []string) string { return and(words) }

func and(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

func openHours(r shop.Rules) string {
	if len(r.CounterDays) == 0 {
		return ""
	}
	days := slices.Clone(r.CounterDays)
	slices.Sort(days)
	name := func(d int) string { return time.Weekday(d).String()[:3] }
	var spans []string
	for i := 0; i < len(days); {
		j := i
		for j+1 < len(days) && days[j+1] == days[j]+1 {
			j++
		}
		switch j - i {
		case 0:
			spans = append(spans, name(days[i]))
		case 1:
			spans = append(spans, name(days[i]), name(days[j]))
		default:
			spans = append(spans, name(days[i])+"–"+name(days[j]))
		}
		i = j + 1
	}
	return fmt.Sprintf("%s %02d:00–%02d:00", and(spans), r.CounterOpen, r.CounterClose)
}

// oneLine makes what somebody typed into one line, so that it cannot look like a
// paragraph, a list or a link of ours.
func oneLine(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && !unicode.IsSpace(r) {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "�"))
	return strings.Join(strings.Fields(s), " ")
}

func oneLiners(f shop.Facts) shop.Facts {
	for _, p := range []*string{&f.Ref, &f.Class, &f.ClassCode, &f.Reason, &f.Wear, &f.Farm, &f.Plant, &f.Species, &f.Code, &f.From} {
		*p = oneLine(*p)
	}
	for _, list := range []*[]string{&f.Tags, &f.Places, &f.Lines, &f.Weights} {
		clean := make([]string, len(*list))
		for i, s := range *list {
			clean[i] = oneLine(s)
		}
		*list = clean
	}
	return f
}
