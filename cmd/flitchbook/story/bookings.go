package story

import (
	"context"
	"fmt"
	"strings"

	"flitchbook/api/shop"
	"flitchbook/api/store"
)

func (p *Player) party(e event) (shop.NewBooking, error) {
	n := shop.NewBooking{Number: e.Number, Class: e.Cls, Counter: e.Counter, PayerName: e.Who, PayerEmail: e.Mail,
		PayerPhone: fmt.Sprintf("555 01%02d", e.Number), Sliced: e.Sliced, Note: e.Note}
	picks := e.Picks
	for i := range e.Seats + e.Watch {
		m := shop.NewPerson{Payer: i == 0}
		if i < len(e.Guests) {
			m.Name = e.Guests[i]
		}
		if i < len(e.Ages) {
			m.Age = e.Ages[i]
		}
		m.Second = i < e.Second
		if i >= e.Seats {
			m.Seat = shop.WatchSeat
		} else if len(picks) > 0 {
			take := 1
			if m.Second {
				take = 2
			}
			m.Picks, picks = picks[:take], picks[take:]
		}
		answers, err := needs(e.Needs, m.Name)
		if err != nil {
			return n, err
		}
		answers.Remember = e.Remember
		m.Needs = answers
		n.People = append(n.People, m)
	}
	return n, nil
}

// needs reads what the story says of a person's food: nothing is "not told".
func needs(all map[string]string, name string) (shop.Answers, error) {
	said, ok := all[name]
	if !ok {
		return shop.Answers{}, nil
	}
	if said == "none" {
		return shop.Answers{State: shop.NoNeeds}, nil
	}
	need := shop.NewNeed{}
	said, need.Severe = strings.CutSuffix(said, "!")
	need.Allergen, need.Words, _ = strings.Cut(said, ":")
	return shop.Answers{State: shop.HasNeeds, Needs: []shop.NewNeed{need}}, nil
}

func (p *Player) book(ctx context.Context, e event) error {
	n, err := p.party(e)
	if err != nil {
		return err
	}
	v, err := p.Store.Book(ctx, p.by(e), n, store.Once{})
	if err != nil {
		return err
	}
	if e.PayAt != "" {
		at, err := p.moment(e.PayAt)
		if err != nil {
			return err
		}
		later := e
		later.at, later.Event.At, later.Do, later.PayAt, later.Amount = at, e.PayAt, "pay", "", v.DueNow
		p.insert(later)
		return nil
	}
	return p.settle(ctx, e, v, v.DueNow)
}

// insert puts an event into the story ahead.
func (p *Player) insert(e event) {
	i := 0
	for i < len(p.ahead) && p.ahead[i].at <= e.at {
		i++
	}
	p.ahead = append(p.ahead[:i], append([]event{e}, p.ahead[i:]...)...)
}

// settle pays what is due now, a voucher first.
func (p *Player) settle(ctx context.Context, e event, v *store.BookingView, due shopMoney) error {
	in := shop.PaymentIn{Cents: due, Method: method(e), Key: fmt.Sprintf("story %s %d", e.At, e.Number)}
	if code := p.codes[e.Voucher]; code != "" {
		card, err := p.Store.VoucherByCode(ctx, code)
		if err != nil {
			return err
		}
		worth := card.Left
		if card.Kind == "seat" { // one seat of its kind, whatever seats cost now (R7)
			worth = v.Total / shopMoney(v.Places)
		}
		in.Vouchers, in.Cents = []string{code}, max(0, due-worth)
	}
	if in.Cents == 0 {
		in.Method = ""
	}
	_, err := p.Store.Pay(ctx, p.by(e), v.ID, in)
	return err
}

func method(e event) string {
	switch {
	case e.Method != "":
		return e.Method
	case e.By != "":
		return "card"
	}
	return "till"
}

func (p *Player) pay(ctx context.Context, e event) error {
	v, err := p.Store.BookingByNumber(ctx, e.Number)
	if err != nil {
		return err
	}
	return p.settle(ctx, e, v, e.Amount)
}

func (p *Player) wait(ctx context.Context, e event) error {
	n, err := p.party(e)
	if err != nil {
		return err
	}
	_, err = p.Store.JoinWaiting(ctx, p.by(e), n, store.Once{})
	return err
}

func (p *Player) leave(ctx context.Context, e event) error {
	v, err := p.Store.BookingByNumber(ctx, e.Number)
	if err != nil {
		return err
	}
	in := shop.LeaveIn{Choice: e.Choice}
	for _, m := range v.People {
		for _, name := range e.Guests {
			if m.Name == name {
				in.Seats = append(in.Seats, shop.SeatLeave{Seat: m.SeatID, Choice: e.Choice})
			}
		}
	}
	if len(in.Seats) != len(e.Guests) {
		return fmt.Errorf("%d of %v are still in the party", len(in.Seats), e.Guests) // nobody named: all would go
	}
	_, err = p.Store.LetGo(ctx, p.by(e), v.ID, in, store.Once{})
	return err
}

func (p *Player) move(ctx context.Context, e event) error {
	v, err := p.Store.BookingByNumber(ctx, e.Number)
	if err != nil {
		return err
	}
	_, err = p.Store.MoveBooking(ctx, p.by(e), v.ID, e.To, store.Once{})
	return err
}

func (p *Player) answer(ctx context.Context, e event) error {
	v, err := p.Store.BookingByNumber(ctx, e.Number)
	if err != nil {
		return err
	}
	choice := e.Choice
	if choice == "move" {
		choice = shop.AnswerAccept
	}
	_, err = p.Store.Answer(ctx, p.by(e), v.ID, choice, "")
	return err
}

func (p *Player) pick(ctx context.Context, e event) error {
	v, err := p.Store.BookingByNumber(ctx, e.Number)
	if err != nil {
		return err
	}
	return p.Store.SavePick(ctx, p.by(e), v.People[e.Seat-1].GuestID, 1, e.Jar)
}

func (p *Player) headCount(ctx context.Context, e event) error {
	v, err := p.Store.BookingByNumber(ctx, e.Number)
	if err != nil {
		return err
	}
	_, err = p.Store.FinalCount(ctx, p.by(e), v.ID, e.Heads)
	return err
}

func (p *Player) collect(ctx context.Context, e event) error {
	v, err := p.Store.BookingByNumber(ctx, e.Number)
	if err != nil {
		return err
	}
	waiting, err := p.Store.Pickup(ctx, v.ID)
	if err != nil {
		return err
	}
	var tags []string
	for _, k := range waiting.Ready {
		tags = append(tags, k.Tag)
	}
	return p.Store.Collect(ctx, p.by(e), store.Handing{Booking: v.ID, To: v.PayerName, Tags: tags, Once: fmt.Sprintf("collect %d", e.Number)})
}
