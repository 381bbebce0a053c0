package store

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/season"
	"flitchbook/planner/unit"
)

// Letter is a draft: to whom it could go and what it could say. Nothing of it leaves
// before SendLetters.
type Letter struct {
	ID    string
	Title string
	shop.LetterText
	To []Recipient
}

// Recipient is somebody a letter may go to.
type Recipient struct {
	ID      string // "b12" for a booking, "farm"
	Ref     string
	Name    string
	Mail    bool
	Written unit.Instant // when this letter was left for sending to them, 0 if it was not
	booking shop.BookingID
}

// orderLetters drafts what may be written when an order brings too little.
func (s *Store) orderLetters(db *gorm.DB, t *Trouble, o *shop.Order, y farmYield) error {
	for _, c := range t.Touched {
		if c.Short == 0 || len(c.Bookings) == 0 {
			continue
		}
		others, err := s.otherDates(db, c)
		if err != nil {
			return err
		}
		body := fmt.Sprintf("Less meat came from the farm than we had been promised, and for %s on %s we have %s too few.\n\n",
			c.Title, c.Starts.Show(s.Loc), countWord(c.Short, "slab", "slabs"))
		if len(others) > 0 {
			body += fmt.Sprintf("Would you come another day instead? There is room on %s. You keep the price you paid, and we thank you with a tenth of it as credit.\n\n", strings.Join(others, ", "))
		}
		body += "If you would rather stay, nothing changes for you: please tell us either way, by answering this message."
		t.Letters = append(t.Letters, Letter{ID: "ask-" + c.Code, Title: "Ask the parties of " + c.Code + " who would come another day",
			LetterText: shop.LetterText{Subject: fmt.Sprintf("Would you come another day? %s, %s", c.Title, c.Starts.Show(s.Loc)), Body: body}, To: recipients(c)})
	}
	what := "brings less than we had planned on"
	switch {
	case o.State == shop.Asked:
		what = "has had no answer, and its order-by has passed"
	case o.Condemned > 0:
		what = fmt.Sprintf("had %s condemned at inspection", shop.AnimalsIn(o.Species, o.Condemned))
	case o.AnsweredAt != 0 && o.Promised < o.Animals:
		what = fmt.Sprintf("brings %d of %s", o.Promised, shop.AnimalsIn(o.Species, o.Animals))
	}
	t.Letters = append(t.Letters, Letter{ID: "farm", Title: "Write to " + y.Farm.Name,
		LetterText: shop.LetterText{Subject: o.Ref() + ": a question", Body: fmt.Sprintf("%s %s. Can you still help us with more, this week or from a neighbour whose animals are killed under inspection?\n\nAnything you can tell us helps; please ring or answer this message.", o.Ref(), what)},
		To:         []Recipient{{ID: "farm", Name: y.Farm.Name, Mail: y.Farm.Email != ""}}})
	return s.written(db, t)
}

// dayLetter drafts the question which other day would suit a class's parties.
func (s *Store) dayLetter(db *gorm.DB, t *Trouble, c TouchedClass, days []season.Option) error {
	if len(c.Bookings) == 0 || len(days) == 0 {
		return nil
	}
	var shown []string
	for _, d := range days {
		shown = append(shown, d.Day.Show())
	}
	t.Letters = append(t.Letters, Letter{ID: "day-" + c.Code, Title: "Ask the parties of " + c.Code + " which day would suit them",
		LetterText: shop.LetterText{Subject: fmt.Sprintf("Which day would suit you? %s, %s", c.Title, c.Starts.Show(s.Loc)),
			Body: fmt.Sprintf("The slaughterhouse does not kill in the days before %s on %s, so we cannot hold it then as it should be.\n\nWhich of these would suit you: %s? Nothing is settled yet; when it is you hear from us and may still choose your money back.", c.Title, c.Starts.Show(s.Loc), strings.Join(shown, ", "))},
		To: recipients(c)})
	return s.written(db, t)
}

func recipients(c TouchedClass) []Recipient {
	var to []Recipient
	for _, b := range c.Bookings {
		to = append(to, Recipient{ID: fmt.Sprintf("b%d", b.ID), Ref: b.Ref, Name: b.Name, Mail: b.Mail, booking: b.ID})
	}
	return to
}

// otherDates are days on which classes of the same kind have room.
func (s *Store) otherDates(db *gorm.DB, c TouchedClass) ([]string, error) {
	rows, err := many[shop.Class](db, "starts_at", "id <> ? AND kind_id = (SELECT kind_id FROM classes WHERE id = ?) AND starts_at > ? AND private = ? AND state IN ? AND seats > seats_taken",
		c.ID, c.ID, s.Now(), false, []shop.ClassState{shop.Open, shop.GoingAhead})
	var out []string
	for _, r := range rows {
		out = append(out, r.StartsAt.Show(s.Loc))
	}
	return out, err
}

func letterKey(trouble, letter, to string) string {
	return "letter/" + trouble + "/" + letter + "/" + to
}

// written notes who has been written to already.
func (s *Store) written(db *gorm.DB, t *Trouble) error {
	for i := range t.Letters {
		for j := range t.Letters[i].To {
			to := &t.Letters[i].To[j]
			err := db.Raw("SELECT coalesce(max(created_at), 0) FROM notices WHERE key = ?", letterKey(t.Key, t.Letters[i].ID, to.ID)).Scan(&to.Written).Error
			if err != nil {
				return err
			}
		}
	}
	return nil
}

// SendLetters leaves a trouble's letter, as the owner has edited it, for the ticked
// recipients. Who has had it is passed over: nobody gets one letter twice. It says how
// many it left.
func (s *Store) SendLetters(ctx context.Context, by shop.Actor, key, letter string, text shop.LetterText, to []string) (int, error) {
	if !by.May(shop.Owner) {
		return 0, shop.ErrNotAllowed
	}
	if err := text.Check(); err != nil {
		return 0, err
	}
	if len(to) == 0 {
		var w shop.Wrong
		w.Add("to", "Tick who it goes to.")
		return 0, w.Err()
	}
	n := 0
	err := s.tx(ctx, func(t tx) error {
		n = 0
		sheet, err := s.trouble(t.DB, key)
		if err != nil {
			return err
		}
		i := slices.IndexFunc(sheet.Letters, func(l Letter) bool { return l.ID == letter })
		if i < 0 {
			return shop.ErrMoved.Saying("This letter is not wanted any more: things have moved since the page was made.")
		}
		var names []string
		for _, r := range sheet.Letters[i].To {
			if !slices.Contains(to, r.ID) || r.Written != 0 || !r.Mail {
				continue
			}
			if err := t.writeTo(sheet, letter, r, text); err != nil {
				return err
			}
			names = append(names, r.Name)
			n++
		}
		if n == 0 {
			return nil
		}
		return t.note(by, "trouble", int64(sheet.Order), "letter", key, letter, text.Subject+": "+strings.Join(names, ", "))
	})
	return n, err
}

func (t tx) writeTo(sheet *Trouble, letter string, r Recipient, text shop.LetterText) error {
	n := shop.Notice{Key: letterKey(sheet.Key, letter, r.ID), Kind: shop.NoticeLetter, ToName: r.Name}
	if r.booking != 0 {
		b, err := take[shop.Booking](t.DB, "The booking", "id = ?", r.booking)
		if err != nil {
			return err
		}
		n.ToAddr, n.Subject, n.SubjectID = b.PayerEmail, "booking", int64(b.ID)
	} else {
		o, err := take[shop.Order](t.DB, "The order", "number = ?", sheet.Order)
		if err != nil {
			return err
		}
		farm, err := take[shop.Farm](t.DB, "The farm", "id = ?", o.FarmID)
		if err != nil {
			return err
		}
		n.ToAddr, n.Subject, n.SubjectID = farm.Email, "order", int64(o.ID)
	}
	return t.tell(n, shop.Facts{Ref: r.Ref, Reason: text.Subject, Lines: text.Paragraphs()})
}
