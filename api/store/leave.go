package store

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/money"
	"flitchbook/planner/unit"
)

// A LeaveQuote is what letting each seat go would give back today, to the cent. It is
// shown before anything is pressed, and LetGo reckons with the same function.
type LeaveQuote struct {
	Seats []SeatQuote
	All   money.Leaving // the whole party
	Words string        // of the whole party
	Whole bool          // only the whole party can leave: one price for all
}

// SeatQuote is one seat of it.
type SeatQuote struct {
	Seat  shop.SeatID
	Guest string
	Kind  shop.SeatKind
	money.Leaving
	Text string
}

// LeaveQuote says what letting go would give back now (R4).
func (s *Store) LeaveQuote(ctx context.Context, id shop.BookingID) (*LeaveQuote, error) {
	db := s.read(ctx)
	b, err := take[shop.Booking](db, "The booking", "id = ?", id)
	if err != nil {
		return nil, err
	}
	c, err := take[shop.Class](db, "The class", "id = ?", b.ClassID)
	if err != nil {
		return nil, err
	}
	seats, _, leavings, err := s.leavings(db, b, c, s.Today())
	if err != nil {
		return nil, err
	}
	q := &LeaveQuote{Whole: c.FlatCents > 0}
	for i, seat := range seats {
		g, err := take[shop.Guest](db, "The guest", "id = ?", seat.GuestID)
		if err != nil {
			return nil, err
		}
		q.Seats = append(q.Seats, SeatQuote{seat.ID, g.Name, seat.Kind, leavings[i], leavings[i].Words()})
		if i == 0 {
			q.All = leavings[0]
		} else {
			q.All = q.All.Add(leavings[i])
		}
	}
	q.Words = q.All.Words()
	return q, nil
}

// leavings reckons what each firm seat of a booking gives back today. Those of the party
// who are here already, or were noted as missed, keep their part of what was paid.
func (s *Store) leavings(db *gorm.DB, b *shop.Booking, c *shop.Class, today unit.Day) (firm, here []shop.Seat, _ []money.Leaving, err error) {
	all, err := many[shop.Seat](db, "position, id", "booking_id = ? AND state IN ?", b.ID, []shop.BookingState{shop.Firm, shop.Came, shop.Missed})
	if err != nil {
		return nil, nil, nil, err
	}
	prices := make([]unit.Money, len(all))
	for i, seat := range all {
		prices[i] = b.PriceOf(seat)
	}
	shares := money.Shares(b.PaidCents-b.KeptCents, prices)
	var out []money.Leaving
	for i, seat := range all {
		if seat.State != shop.Firm {
			here = append(here, seat)
			continue
		}
		firm = append(firm, seat)
		out = append(out, money.Leave(shares[i], today, c.Day, s.moneyRules()))
	}
	return firm, here, out, nil
}

// LetGo gives up a party's seats, or some of them, and gives back what the rule says:
// money first, then credit, vouchers restored (R4, R8). Seats go to the waiting list.
func (s *Store) LetGo(ctx context.Context, by shop.Actor, id shop.BookingID, in shop.LeaveIn, once Once) (*BookingView, error) {
	in.CreditName, in.CreditEmail = trim(in.CreditName), trim(in.CreditEmail)
	if err := in.Check(by); err != nil {
		return nil, err
	}
	err := s.tx(ctx, func(t tx) error {
		b, c, err := t.openBooking(id)
		if err != nil {
			return err
		}
		if _, seen, err := t.repeated(once, "let go", by); err != nil || seen {
			return err
		}
		switch b.State {
		case shop.Firm:
			err = t.leave(by, b, c, in)
		case shop.Held:
			err = t.letGoAll(by, b, c, "left")
		default:
			err = shop.ErrMoved.Saying("This booking is %s; there are no seats to let go.", b.State)
		}
		if err != nil {
			return err
		}
		return t.remember(once, "let go", by, "done")
	})
	if err != nil {
		return nil, err
	}
	return s.BookingByID(ctx, id)
}

func (t tx) leave(by shop.Actor, b *shop.Booking, c *shop.Class, in shop.LeaveIn) error {
	if c.StartsAt <= t.now {
		return shop.ErrMoved.Saying("The class has begun; seats can no longer be let go.")
	}
	seats, here, leavings, err := t.s.leavings(t.DB, b, c, t.today)
	if err != nil {
		return err
	}
	going, staying, err := t.sortOut(c, seats, here, in)
	if err != nil {
		return err
	}
	to := owner{b.PayerName, b.PayerEmail}
	if in.CreditName != "" {
		to = owner{in.CreditName, in.CreditEmail}
	}
	var back, credit, left, kept, price, restored unit.Money
	var gone []shop.Seat
	for i, seat := range seats {
		choice, ok := going[seat.ID]
		if !ok {
			continue
		}
		l := leavings[i]
		share := l.Credit + l.IfSold // what was paid for the seat
		byRule := l.Money
		if choice == "credit" {
			byRule = l.Credit
		}
		if in.Kinder {
			if err := t.gaveMore(by, b, c, share-byRule, fmt.Sprintf("kinder/%d", seat.ID), in.Reason); err != nil {
				return err
			}
			l = money.Leaving{Tier: money.AllBack, Money: share, Credit: share, Why: in.Reason}
		}
		amount, as := l.Money, "money"
		switch {
		case l.Tier == money.IfSoldNew:
			as, left = "", left+l.IfSold
			if err := t.Create(&shop.Resale{ClassID: c.ID, BookingID: b.ID, SeatID: seat.ID, Cents: l.IfSold,
				OwnerName: to.Name, OwnerEmail: to.Email, LeftAt: t.now}).Error; err != nil {
				return err
			}
		case l.Tier == money.Choose && choice == "" && share > 0:
			return field("choice", "Please choose: %s.", l.Words())
		case choice == "credit":
			amount, as = l.Credit, "credit"
		}
		if as != "" {
			m, cr, err := t.giveBack(by, b, amount, as, to, fmt.Sprintf("leave/%d", seat.ID), l.Why)
			if err != nil {
				return err
			}
			back, credit, restored = back+m, credit+cr, restored+amount-m-cr
		} else {
			amount = 0
		}
		kept += share - amount
		price += b.PriceOf(seat)
		gone = append(gone, seat)
	}
	if err := t.turnSeats(gone, shop.LetGo); err != nil {
		return err
	}
	set := map[string]any{"total_cents": b.TotalCents - price, "kept_cents": b.KeptCents + kept}
	if len(staying) == 0 {
		set["state"], set["let_go_reason"], set["total_cents"] = shop.LetGo, "left", 0
	}
	if err := t.updateBooking(b, set); err != nil {
		return err
	}
	if len(here) > 0 {
		if err := t.followSeats(b); err != nil {
			return err
		}
	}
	why := strings.TrimSpace(fmt.Sprintf("%d seats; %s back, %s credit, %s if sold again %s", len(gone), back, credit, left, in.Reason))
	if err := t.note(by, "booking", int64(b.ID), "let go", string(shop.Firm), string(shop.LetGo), why); err != nil {
		return err
	}
	if err := t.seatsGone(b, c, gone, len(staying) == 0); err != nil {
		return err
	}
	f, err := t.facts(b, c)
	if err != nil {
		return err
	}
	f.Seats, f.Back, f.Credit = len(gone), back, credit
	var more []string
	if left > 0 {
		more = append(more, fmt.Sprintf("%s credit if the seat is sold again", left))
	}
	if restored > 0 {
		more = append(more, fmt.Sprintf("%s is on the voucher or credit again that it was paid with", restored))
	}
	f.Reason = strings.Join(more, "; ")
	if f.Invite, err = t.bookingEntry(b, c, len(staying) == 0); err != nil {
		return err
	}
	n := t.toPayer(b, shop.NoticeLetGo, fmt.Sprintf("let-go/%d/r%d", b.Number, b.Revision))
	n.Urgent = true
	if err := t.tell(n, f); err != nil {
		return err
	}
	if err := t.freeSeats(c, places(gone)); err != nil {
		return err
	}
	return t.offerFreed(c)
}

// sortOut says who goes, with what choice, and who stays, those who are here already
// among them; the ones who stay must still make a party (R1, R11).
func (t tx) sortOut(c *shop.Class, seats, here []shop.Seat, in shop.LeaveIn) (going map[shop.SeatID]string, staying []shop.Seat, err error) {
	going = map[shop.SeatID]string{}
	for _, l := range in.Seats {
		if !slices.ContainsFunc(seats, func(s shop.Seat) bool { return s.ID == l.Seat }) {
			return nil, nil, shop.ErrMoved.Saying("One of these seats was let go before.")
		}
		going[l.Seat] = l.Choice
		if l.Choice == "" {
			going[l.Seat] = in.Choice
		}
	}
	if len(in.Seats) == 0 {
		for _, s := range seats {
			going[s.ID] = in.Choice
		}
	}
	var people []shop.NewPerson
	for _, s := range slices.Concat(seats, here) {
		if _, ok := going[s.ID]; ok {
			continue
		}
		g, err := take[shop.Guest](t.DB, "The guest", "id = ?", s.GuestID)
		if err != nil {
			return nil, nil, err
		}
		staying = append(staying, s)
		people = append(people, shop.NewPerson{Seat: s.Kind, Age: g.Age})
	}
	if c.FlatCents > 0 && len(staying) > 0 {
		return nil, nil, field("seats", "This party has one price for all, so it can only be let go as a whole. A smaller head count is settled at the counter.")
	}
	k, err := t.kindOf(c)
	if err != nil {
		return nil, nil, err
	}
	return going, staying, shop.CheckStay(people, *k)
}

// seatsGone clears up after seats that were let go, moved or called off: their guests'
// links stop working and their food answers vanish, slabs already cut become the shop's
// own, entries and reminders follow. The booking row is up to date already.
func (t tx) seatsGone(b *shop.Booking, c *shop.Class, gone []shop.Seat, whole bool) error {
	for _, s := range gone {
		if err := t.Exec("DELETE FROM needs WHERE guest_id = ?", s.GuestID).Error; err != nil {
			return err
		}
		_, hash := t.s.newLink("guest")
		err := t.Model(&shop.Guest{}).Where("id = ?", s.GuestID).
			Updates(map[string]any{"needs_state": shop.NotTold, "link_no": 0, "token_hash": hash}).Error
		if err != nil {
			return err
		}
		if err := t.untell("guest", int64(s.GuestID)); err != nil {
			return err
		}
		if err := t.unseatSlabs(s.ID); err != nil {
			return err
		}
	}
	if !whole {
		return t.settle(b, c)
	}
	if err := t.untellBooking(b); err != nil {
		return err
	}
	for _, kind := range []string{"balance", "ready", "booking-class"} {
		if err := t.cancelEntry(t.s.uid(kind, int64(b.ID))); err != nil {
			return err
		}
	}
	return t.keepJarsAway(c)
}

// unseatSlabs makes slabs cut for a seat the shop's own again, until somebody takes the seat.
func (t tx) unseatSlabs(seat shop.SeatID) error {
	return t.Exec("UPDATE slabs SET seat_id = 0, revision = revision + 1 WHERE seat_id = ? AND state IN (?, ?, ?)",
		seat, shop.Wanted, shop.Cut, shop.Kitted).Error
}

// giveBack takes amount out of what a booking was paid with and hands it back: money as
// money or as credit, credits and vouchers as they were (R8). It says how much went back
// as money and how much became credit.
func (t tx) giveBack(by shop.Actor, b *shop.Booking, amount unit.Money, as string, to owner, key, why string) (back, credit unit.Money, err error) {
	if amount <= 0 {
		return 0, 0, nil
	}
	paid, err := t.paidWith(b)
	if err != nil {
		return 0, 0, err
	}
	parts, rest := money.GiveBack(amount, paid)
	for i, p := range parts {
		var lines []shop.LedgerLine
		row := shop.Payment{BookingID: b.ID, Cents: -p.Cents, Key: fmt.Sprintf("%s/%d", key, i+1), Note: why, At: t.now, Actor: by.Name}
		switch p.Kind {
		case money.Cash:
			if as == "credit" {
				rest += p.Cents
				continue
			}
			back += p.Cents
			row.Method = p.Name
		case money.Credit:
			row.CreditID, row.Method = shop.CreditID(p.ID), "credit"
			var revived unit.Money
			revived, err = t.restoreCredit(row.CreditID, p.Cents)
			lines = []shop.LedgerLine{line(shop.OwedCredit, p.ID, -p.Cents-revived), line(shop.RunOut, 0, revived)}
		case money.Voucher:
			row.VoucherID, row.Method = shop.VoucherID(p.ID), "voucher"
			var gained, revived unit.Money
			gained, revived, err = t.restoreVoucher(row.VoucherID, p.Cents, p.Whole)
			lines = []shop.LedgerLine{line(shop.OwedVoucher, p.ID, -gained), line(shop.RunOut, 0, revived), line(shop.SeatLift, int64(b.ID), gained-revived-p.Cents)}
		}
		if err != nil {
			return 0, 0, err
		}
		if err := t.pays(row, lines...); err != nil {
			return 0, 0, err
		}
	}
	if rest > 0 {
		if err := t.toCredit(by, b, rest, rest, to, key+"/credit", why); err != nil {
			return 0, 0, err
		}
	}
	return back, rest, t.updateBooking(b, map[string]any{"paid_cents": b.PaidCents - amount})
}

// toCredit turns money of a booking into a credit, which may be worth more (R5).
func (t tx) toCredit(by shop.Actor, b *shop.Booking, cents, worth unit.Money, to owner, key, why string) error {
	c, err := t.giveCredit(by, b, to, worth, why)
	if err != nil {
		return err
	}
	return t.pays(shop.Payment{BookingID: b.ID, CreditID: c.ID, Cents: -cents, Method: "to credit", Key: key, Note: why, At: t.now, Actor: by.Name},
		line(shop.OwedCredit, int64(c.ID), -worth), line(shop.GivenKindly, int64(b.ID), worth-cents))
}

// settleResales credits people who left too late for money back, once their seats are
// sold again: when fewer places stand unsold than there are such seats, the oldest of
// them have found a buyer (R4).
func (t tx) settleResales(c *shop.Class) error {
	open, err := many[shop.Resale](t.DB, "left_at, id", "class_id = ? AND sold_at = 0", c.ID)
	if err != nil || len(open) == 0 {
		return err
	}
	var firm int64
	err = t.Model(&shop.Seat{}).Where("class_id = ? AND kind <> ? AND state IN ?", c.ID, shop.WatchSeat, []shop.BookingState{shop.Firm, shop.Came, shop.Missed}).Count(&firm).Error
	if err != nil {
		return err
	}
	unsold := c.Seats - int(firm)
	for i := 0; i < len(open)-unsold; i++ {
		r := open[i]
		res := t.Model(&shop.Resale{}).Where("id = ? AND sold_at = 0", r.ID).Update("sold_at", t.now)
		if err := changed(res, shop.ErrMoved); err != nil {
			return err
		}
		b, err := take[shop.Booking](t.DB, "The booking", "id = ?", r.BookingID)
		if err != nil {
			return err
		}
		if err := t.updateBooking(b, map[string]any{"kept_cents": b.KeptCents - r.Cents}); err != nil {
			return err
		}
		_, credit, err := t.giveBack(shop.Itself(), b, r.Cents, "credit", owner{r.OwnerName, r.OwnerEmail}, fmt.Sprintf("resold/%d", r.SeatID), "your seat was sold again")
		if err != nil {
			return err
		}
		if credit == 0 && r.Cents > 0 {
			n := t.toPayer(b, shop.NoticeCredit, fmt.Sprintf("resold/%d", r.SeatID))
			if err := t.tell(n, shop.Facts{Ref: b.Ref(), Reason: "your seat was sold again: what you paid with is whole again."}); err != nil {
				return err
			}
		}
	}
	return nil
}
