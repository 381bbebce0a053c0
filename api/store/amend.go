package store

import (
	"context"
	"fmt"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/money"
	"flitchbook/planner/unit"
)

// ChooseAmend enters at the counter what a party chooses for its dumped slab (R34). What
// waits as "another class" may still become one of the other two.
func (s *Store) ChooseAmend(ctx context.Context, by shop.Actor, tag string, choice shop.AmendChoice) error {
	if !by.IsStaff() {
		return shop.ErrNotAllowed
	}
	return s.tx(ctx, func(t tx) error {
		sl, err := t.slabByTag(tag)
		if err != nil {
			return err
		}
		return t.amend(by, sl, choice)
	})
}

// ChooseMyAmend is the party's own choice, by the address of its My-slab page.
func (s *Store) ChooseMyAmend(ctx context.Context, secret, tag string, choice shop.AmendChoice) error {
	b, err := s.bySlabSecret(ctx, secret)
	if err != nil {
		return err
	}
	return s.tx(ctx, func(t tx) error {
		sl, err := t.slabByTag(tag)
		if err != nil {
			return err
		}
		own, err := t.partyOf(sl)
		if err != nil {
			return err
		}
		if own == nil || own.ID != b.ID { // somebody else's tag is nobody's here
			return shop.Missing("Slab " + sl.Tag)
		}
		return t.amend(shop.Customer("party of "+b.Ref()), sl, choice)
	})
}

func (t tx) amend(by shop.Actor, sl *shop.Slab, choice shop.AmendChoice) error {
	if choice != shop.AmendAgain && choice != shop.AmendClass && choice != shop.AmendMoney {
		return field("choice", "Please choose one of the three.")
	}
	a, err := take[shop.Amend](t.DB, "A choice for "+sl.Tag, "slab_id = ?", sl.ID)
	if err != nil {
		return err
	}
	if err := t.lock("bookings", int64(a.BookingID)); err != nil {
		return err
	}
	if a, err = take[shop.Amend](t.DB, "A choice for "+sl.Tag, "slab_id = ?", sl.ID); err != nil {
		return err
	}
	was := a.Choice
	switch {
	case was == choice:
		return nil
	case was == shop.AmendClass && by.IsStaff() && a.DoneAt == 0:
	case was != shop.AmendOpen:
		return shop.ErrMoved.Saying("For %s it is chosen already: %s. Ask at the counter.", sl.Tag, was.Words())
	}
	b, err := take[shop.Booking](t.DB, "The booking", "id = ?", a.BookingID)
	if err != nil {
		return err
	}
	a.Choice, a.ChosenAt, a.ChosenBy = choice, t.now, by.Name
	detail := sl.Tag
	switch choice {
	case shop.AmendAgain:
		if err := t.meatAgain(by, a); err != nil {
			return err
		}
	case shop.AmendMoney:
		if err := t.moneyForSlab(by, b, sl, a); err != nil {
			return err
		}
		detail += ", " + a.Cents.String()
	}
	err = changed(t.Model(&shop.Amend{}).Where("id = ? AND choice = ?", a.ID, was).
		Select("choice", "chosen_at", "chosen_by", "class_id", "unsold", "cents", "done_at", "done_by").Updates(a), shop.ErrMoved)
	if err != nil {
		return err
	}
	return t.note(by, "booking", int64(b.ID), "for the dumped slab", was.Words(), choice.Words(), detail)
}

// moneyForSlab gives back everything that was paid for a dumped slab's seat: vouchers and
// credit as they were, the rest as money (R8). A seat with two slabs gets for each what
// was paid for it.
func (t tx) moneyForSlab(by shop.Actor, b *shop.Booking, sl *shop.Slab, a *shop.Amend) error {
	seats, err := t.standing(b, shop.Firm, shop.Came, shop.Missed)
	if err != nil {
		return err
	}
	var done []shop.Slab
	done, err = many[shop.Slab](t.DB, "id", "id IN (SELECT slab_id FROM amends WHERE booking_id = ? AND choice = ?)", b.ID, shop.AmendMoney)
	if err != nil {
		return err
	}
	paidBack := map[want]bool{}
	for _, d := range done {
		paidBack[want{SeatID: d.SeatID, Slot: d.Slot}] = true
	}
	at := -1
	var prices []unit.Money
	var sum unit.Money
	for _, seat := range seats {
		price := b.PriceOf(seat)
		for slot := 1; slot <= max(seat.Slabs, 1); slot++ {
			p := price
			switch {
			case slot > 1:
				p = b.SecondCents
			case seat.Slabs > 1:
				p -= b.SecondCents
			}
			if paidBack[want{SeatID: seat.ID, Slot: slot}] {
				continue
			}
			if seat.ID == sl.SeatID && slot == sl.Slot {
				at = len(prices)
			}
			prices, sum = append(prices, p), sum+p
		}
	}
	if at < 0 {
		return shop.Stop("no_seat", "%s has no seat any more that was paid for.", sl.Tag)
	}
	if sum == 0 && b.TotalCents > 0 { // one price for the whole party
		even := make([]unit.Money, len(prices))
		for i := range even {
			even[i] = 1
		}
		prices = money.Shares(b.TotalCents, even)
	}
	a.Cents = money.Shares(b.PaidCents-b.KeptCents, prices)[at]
	a.DoneAt, a.DoneBy = t.now, by.Name
	back, credit, err := t.giveBack(by, b, a.Cents, "money", owner{b.PayerName, b.PayerEmail}, fmt.Sprintf("dumped/%d", sl.ID), "slab "+sl.Tag+" was dumped")
	if err != nil {
		return err
	}
	if err := t.updateBooking(b, map[string]any{"total_cents": b.TotalCents - prices[at]}); err != nil {
		return err
	}
	c, err := take[shop.Class](t.DB, "The class", "id = ?", b.ClassID)
	if err != nil {
		return err
	}
	f := shop.Facts{Ref: b.Ref(), Class: c.Title, ClassCode: c.Code, Back: back, Credit: credit, Tags: []string{sl.Tag},
		Reason: "We had to throw " + sl.Tag + " away; this is what was paid for its seat."}
	return t.tell(t.toPayer(b, shop.NoticeCredit, fmt.Sprintf("dumped-money/%d", sl.ID)), f)
}

// SettleAmend notes how staff settled another class for a party, in words.
func (s *Store) SettleAmend(ctx context.Context, by shop.Actor, tag, how string) error {
	if !by.IsStaff() {
		return shop.ErrNotAllowed
	}
	if how = trim(how); how == "" {
		return field("note", "Say what was agreed; it stands in the record.")
	}
	if len([]rune(how)) > 400 {
		return field("note", "Please write at most 400 letters.")
	}
	return s.tx(ctx, func(t tx) error {
		sl, err := t.slabByTag(tag)
		if err != nil {
			return err
		}
		res := t.Model(&shop.Amend{}).Where("slab_id = ? AND choice = ? AND done_at = 0", sl.ID, shop.AmendClass).
			Updates(map[string]any{"note": how, "done_at": t.now, "done_by": by.Name})
		if err := changed(res, shop.ErrMoved.Saying("Nobody waits for another class in the place of %s.", sl.Tag)); err != nil {
			return err
		}
		return t.note(by, "slab", int64(sl.ID), "another class settled", "", "", how)
	})
}

// An AmendView is a dumped slab and how far its people are with it.
type AmendView struct {
	shop.Amend
	Tag, NewTag string
	NewState    shop.SlabState
	Number      int
	Name        string
	Spice       string
	From        string // code of the class whose delivery gives the meat
}

// Ref of the booking.
func (v AmendView) Ref() string { return shop.Ref(v.Number) }

// Waits says what it waits for, "" when it is done.
func (v AmendView) Waits() string {
	switch {
	case v.DoneAt != 0:
		return ""
	case v.Choice == shop.AmendOpen:
		return "nobody has chosen yet"
	case v.Choice == shop.AmendAgain && v.ClassID == 0:
		return "to be cured again, and no meat is found yet"
	case v.Choice == shop.AmendAgain:
		return "to be cured again when the owner has said yes"
	}
	return "another class: to be settled with them"
}

// Amends lists dumped slabs that had an owner, those that wait first.
func (s *Store) Amends(ctx context.Context) ([]AmendView, error) { return s.amends(s.read(ctx)) }

func (s *Store) amends(db *gorm.DB) ([]AmendView, error) {
	var out []AmendView
	err := db.Raw(`SELECT amends.*, slabs.tag, coalesce(fresh.tag, '') AS new_tag, coalesce(fresh.state, '') AS new_state, bookings.number, bookings.payer_name AS name,
			coalesce(jars.name, '') AS spice, coalesce(classes.code, '') AS "from"
		FROM amends JOIN slabs ON slabs.id = amends.slab_id JOIN bookings ON bookings.id = amends.booking_id
		LEFT JOIN slabs fresh ON fresh.id = amends.new_slab_id LEFT JOIN classes ON classes.id = amends.class_id
		LEFT JOIN jars ON jars.id = slabs.jar_id
		ORDER BY CASE WHEN amends.done_at = 0 THEN 0 ELSE 1 END, slabs.class_id, slabs.number`).Scan(&out).Error
	return out, err
}

func (s *Store) amendsOpen(db *gorm.DB, _ unit.Instant) ([]string, error) {
	all, err := s.amends(db)
	var lines []string
	for _, v := range all {
		if w := v.Waits(); w != "" {
			lines = append(lines, fmt.Sprintf("DUMPED %s (%s, %s): %s", v.Tag, v.Name, v.Ref(), w))
		}
	}
	return lines, err
}
