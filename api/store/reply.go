package store

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/unit"
)

// The questions people write to a shop with, and a word for each.
var ReplyTopics = [][2]string{
	{"ready", "Is my bacon ready?"}, {"change", "Can I move or cancel?"}, {"holiday", "Ready before the holiday?"}, {"voucher", "Vouchers and presents"},
	{"food", "Allergies and food"}, {"ages", "How old? May my child watch?"}, {"private", "A private party?"}, {"fetch", "Can someone else fetch it?"}, {"own", "My own deer or belly?"},
}

// A Reply is a sender's bookings with today's facts, and an answer drafted from them. It
// is a draft: a person reads it, changes it and sends it. What anybody answered about food
// is never in it.
type Reply struct {
	Name     string
	Email    string // where the answer goes; "" when none is known
	Payer    bool   // money may be told
	Subject  string
	Draft    string
	Bookings []ReplyBooking
}

// ReplyBooking is one booking of the sender.
type ReplyBooking struct {
	ID    shop.BookingID
	View  BookingView
	Slabs []ReplySlab
	Money string // what letting go would give today; "" when nothing stands ahead or it is not theirs to know
}

// ReplySlab is a slab in words.
type ReplySlab struct{ Tag, Where string }

// Reply looks the sender up by address, or by what the counter's search takes, and drafts
// an answer to one of the usual questions.
func (s *Store) Reply(ctx context.Context, sender, about string) (*Reply, error) {
	sender = trim(sender)
	if !slices.ContainsFunc(ReplyTopics, func(t [2]string) bool { return t[0] == about }) {
		return nil, field("about", "Choose what they ask.")
	}
	r, err := s.replyTo(ctx, sender)
	if err != nil {
		return nil, err
	}
	text, err := s.replyText(ctx, r, about)
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(ReplyTopics, func(t [2]string) bool { return t[0] == about })
	r.Subject, r.Draft = "Your question: "+ReplyTopics[i][1], text
	return r, nil
}

func (s *Store) replyTo(ctx context.Context, sender string) (*Reply, error) {
	if len([]rune(sender)) < 2 {
		return nil, field("sender", "Type the sender's address, name, tag or booking number.")
	}
	db, r := s.read(ctx), &Reply{}
	var ids []shop.BookingID
	if strings.Contains(sender, "@") {
		r.Email = sender
		mail := strings.ToLower(sender)
		if err := db.Raw("SELECT id FROM bookings WHERE lower(payer_email) = ? ORDER BY id DESC", mail).Scan(&ids).Error; err != nil {
			return nil, err
		}
		r.Payer = len(ids) > 0
		if !r.Payer {
			if err := db.Raw("SELECT booking_id FROM guests WHERE lower(email) = ? ORDER BY id DESC", mail).Scan(&ids).Error; err != nil {
				return nil, err
			}
			if err := db.Raw("SELECT name FROM guests WHERE lower(email) = ? ORDER BY id DESC LIMIT 1", mail).Scan(&r.Name).Error; err != nil {
				return nil, err
			}
		}
	} else {
		found, err := s.Find(ctx, sender)
		if err != nil {
			return nil, err
		}
		for _, f := range found {
			if f.Name != found[0].Name {
				return nil, field("sender", "Several people answer to that: type the address, or the booking number.")
			}
			ids = append(ids, f.BookingID)
		}
		r.Payer = true
	}
	const most = 10
	for _, id := range ids[:min(len(ids), most)] {
		b, err := s.replyBooking(ctx, db, id, r.Payer)
		if err != nil {
			return nil, err
		}
		if r.Payer && r.Name == "" {
			r.Name = b.View.PayerName
			if r.Email == "" {
				r.Email = b.View.PayerEmail
			}
		}
		r.Bookings = append(r.Bookings, b)
	}
	return r, nil
}

func (s *Store) replyBooking(ctx context.Context, db *gorm.DB, id shop.BookingID, payer bool) (ReplyBooking, error) {
	v, err := s.BookingByID(ctx, id)
	if err != nil {
		return ReplyBooking{}, err
	}
	b := ReplyBooking{ID: id, View: *v}
	slabs, err := many[shop.Slab](db, "class_id, number", "seat_id IN (SELECT id FROM seats WHERE booking_id = ?) AND state <> ?", id, shop.Replaced)
	if err != nil {
		return b, err
	}
	for i := range slabs {
		b.Slabs = append(b.Slabs, ReplySlab{slabs[i].Tag, s.slabWhere(&slabs[i])})
	}
	if payer && v.State == shop.Firm && v.Class.StartsAt > s.Now() {
		q, err := s.LeaveQuote(ctx, id)
		if err != nil {
			return b, err
		}
		b.Money = q.Words
	}
	return b, nil
}

// slabWhere says where a slab is and what comes next, as the shop would say it today.
func (s *Store) slabWhere(sl *shop.Slab) string {
	about := ""
	if sl.ReadyOn != 0 {
		about = ", ready about " + sl.ReadyOn.Show()
	}
	when := func(d unit.Day) string {
		switch d - s.Today() {
		case 0:
			return "today"
		case 1:
			return "tomorrow"
		}
		return "on " + d.Show()
	}
	switch sl.State {
	case shop.OnHold, shop.Unproven:
		return "it is being checked, so there is no date just now"
	case shop.InCure:
		return fmt.Sprintf("it is in cure, day %d of at least %d%s", s.dayInCure(sl, s.Today()), s.Rules.CureDays, about)
	case shop.Rinsed:
		if sl.SmokeOn != 0 && sl.SmokeOn >= s.Today() {
			return "it is drying and is smoked " + when(sl.SmokeOn) + about
		}
		return "it is drying" + about
	case shop.InSmoke:
		return "it is in the smoke" + about
	case shop.Resting:
		return "it is smoked and rests before it is packed" + about
	case shop.Packed:
		return "it is packed and goes onto the shelf next"
	case shop.OnShelf:
		return "it is on the shelf and waits for you"
	case shop.InFreezer:
		return "it is in our freezer and waits for you"
	case shop.Collected:
		return "it was fetched"
	case shop.Dumped, shop.GivenUp:
		return "it had to be given up; we wrote to you about it"
	}
	return "it is cut shortly before the class" + about
}

func (s *Store) replyText(ctx context.Context, r *Reply, about string) (string, error) {
	switch about {
	case "ready":
		return r.readyText(), nil
	case "change":
		return s.changeText(r), nil
	case "fetch":
		return r.fetchText(), nil
	case "holiday":
		return s.holidayText(ctx, r)
	case "ages":
		return s.agesText(ctx)
	case "private":
		return s.privateText(ctx)
	case "voucher":
		return fmt.Sprintf("Yes: a voucher for a seat is worth one seat of that kind, whatever it costs by then, and lasts %d years. The card shows no price, and nothing reaches the one you give it to before the day you choose. %s/vouchers", s.Rules.VoucherYears, s.Config.BaseURL), nil
	case "food":
		return "Please tell us on your own page what you cannot eat; each person has a page for themselves, and only the people who cook and set the tables read it. What must not be there is kept off the table where it is severe. Other food is prepared in the same kitchen, so it is no promise of a kitchen free of it. On each class's page stands what is in the spices.", nil
	}
	return "No, we are sorry: only inspected meat may come to our tables, so we cannot take your own deer, pig or belly.", nil
}

const noBooking = "I cannot find a booking under this address. Which name or number is it under?"

func (r *Reply) readyText() string {
	var lines []string
	for _, b := range r.Bookings {
		for _, sl := range b.Slabs {
			if sl.Where != "it was fetched" {
				lines = append(lines, b.View.Ref+", slab "+sl.Tag+": "+sl.Where+".")
			}
		}
		if len(b.Slabs) == 0 && b.View.Slabs > 0 && b.View.State == shop.Firm {
			lines = append(lines, fmt.Sprintf("%s: your class is on %s; the bacon is ready about %s.", b.View.Ref, b.View.Class.Day.Show(), b.View.ReadyAbout.Show()))
		}
	}
	switch {
	case len(r.Bookings) == 0:
		return noBooking
	case len(lines) == 0:
		return "There is no bacon of yours with us just now: all of it was fetched."
	}
	return strings.Join(lines, "\n") + "\n\nWe will write when it is on the shelf; that is the moment it is ready."
}

func (s *Store) changeText(r *Reply) string {
	rule := fmt.Sprintf("%d days or more before, all money comes back; %d to %d days before, full credit or %s of the money; after that nothing, unless the seat is sold again. A name may be changed free until the class starts, and another date is free until %d days before.",
		s.Rules.FullBackDays, s.Rules.FullBackDays-1, s.Rules.ChooseDays, s.Rules.ChooseShare, s.Rules.ChooseDays)
	var lines []string
	for _, b := range r.Bookings {
		if b.Money != "" {
			lines = append(lines, fmt.Sprintf("%s, %s on %s: letting go today gives %s.", b.View.Ref, b.View.Class.Title, b.View.Class.Day.Show(), b.Money))
		}
	}
	if len(lines) == 0 {
		return "The rule: " + rule
	}
	return strings.Join(lines, "\n") + "\n\nThe rule: " + rule + " You can do it yourself on your booking's page; the sum is shown before you press."
}

func (r *Reply) fetchText() string {
	if len(r.Bookings) == 0 {
		return noBooking
	}
	var lines []string
	for _, b := range r.Bookings {
		if b.View.Slabs == 0 || !b.View.State.Holds() {
			continue
		}
		if b.View.Collector != "" {
			lines = append(lines, b.View.Ref+": "+b.View.Collector+" is named to fetch it.")
		} else {
			lines = append(lines, b.View.Ref+": nobody else is named yet.")
		}
	}
	return strings.Join(append(lines, "Yes: write their name on your bacon's page under \"Someone else may fetch it\", and we hand it to them. Longer away? It waits on the shelf, then in our freezer."), "\n")
}

func (s *Store) holidayText(ctx context.Context, r *Reply) (string, error) {
	h, err := s.holiday(s.read(ctx), s.Now())
	if err != nil {
		return "", err
	}
	if h.Day == 0 {
		return "We are open as usual in the weeks ahead. Each class's page shows when its bacon is ready about.", nil
	}
	var lines []string
	for _, b := range r.Bookings {
		if b.View.Slabs == 0 || b.View.ReadyAbout == 0 || !b.View.State.Holds() || b.View.ReadyAbout < s.Today() {
			continue
		}
		word := "before"
		if b.View.ReadyAbout >= h.Day {
			word = "not before"
		}
		lines = append(lines, fmt.Sprintf("%s: ready about %s, %s %s.", b.View.Ref, b.View.ReadyAbout.Show(), word, h.Day.Show()))
	}
	if h.Last != nil {
		lines = append(lines, fmt.Sprintf("For bacon before %s, the last class is on %s.", h.Day.Show(), h.Last.Day.Show()))
	} else {
		lines = append(lines, fmt.Sprintf("No class is left whose bacon would be ready before %s.", h.Day.Show()))
	}
	return strings.Join(append(lines, "These dates are honest estimates; if one moves we say so."), "\n"), nil
}

func (s *Store) agesText(ctx context.Context) (string, error) {
	kinds, err := s.Kinds(ctx)
	if err != nil {
		return "", err
	}
	var lines []string
	for _, k := range kinds {
		if k.MinAge == 0 {
			continue
		}
		line := fmt.Sprintf("%s: from %d on the day of the class", k.Name, k.MinAge)
		if k.WatchAge > 0 {
			line += fmt.Sprintf(", a watching seat beside a grown-up's from %d", k.WatchAge)
		}
		lines = append(lines, line+".")
	}
	return strings.Join(append(lines, "One grown-up for every two people under 18 in the bacon class; under 18 in a clinic only with a guardian's signature, and no saw."), "\n"), nil
}

func (s *Store) privateText(ctx context.Context) (string, error) {
	p, err := s.PrivatePage(ctx)
	if err != nil {
		return "", err
	}
	var lines, days []string
	for _, o := range p.Offers {
		if o.FlatCents > 0 {
			lines = append(lines, fmt.Sprintf("%s: %s for %d people.", o.Name, o.FlatCents, o.Most))
		} else {
			lines = append(lines, fmt.Sprintf("%s: %s a head, %d to %d people.", o.Name, o.Head, o.Least, o.Most))
		}
	}
	for _, d := range p.Evenings[:min(len(p.Evenings), 5)] {
		days = append(days, d.Show())
	}
	if len(days) > 0 {
		lines = append(lines, "Free evenings next: "+strings.Join(days, ", ")+".")
	}
	return strings.Join(append(lines, fmt.Sprintf("%s at booking, the rest %d days before. Ask here: %s/private", p.Deposit, p.RestDays, s.Config.BaseURL)), "\n"), nil
}

// SendReply sends an answer in the shop's own words, once for each press.
func (s *Store) SendReply(ctx context.Context, by shop.Actor, to, name, subject, body string, once Once) error {
	to, name, subject, body = trim(to), trim(name), trim(subject), strings.TrimSpace(body)
	if err := (shop.ReplyText{To: to, Name: name, Subject: subject, Body: body}).Check(); err != nil {
		return err
	}
	if once.Key == "" {
		return field("body", "This page was made wrongly; open it again before you send.")
	}
	return s.tx(ctx, func(t tx) error {
		if _, seen, err := t.repeated(once, "reply", by); err != nil || seen {
			return err
		}
		n := shop.Notice{Key: "reply/" + by.Name + "/" + once.Key, Kind: shop.NoticeLetter, ToName: name, ToAddr: to, Subject: "letter"}
		lines := slices.DeleteFunc(strings.Split(strings.ReplaceAll(body, "\r\n", "\n"), "\n"), func(l string) bool { return trim(l) == "" })
		if err := t.tell(n, shop.Facts{Reason: subject, Lines: lines}); err != nil {
			return err
		}
		if err := t.note(by, "reply", 0, "answered a message", "", "", ""); err != nil {
			return err
		}
		return t.remember(once, "reply", by, "sent")
	})
}
