package story

import (
	"context"
	"fmt"
	"strings"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/inspection"
	"flitchbook/planner/unit"
)

// happen does one event. Its word is looked up here and nowhere else.
func (p *Player) happen(ctx context.Context, e event) error {
	do, ok := map[string]func(context.Context, event) error{
		"class": p.class, "publish": p.publish, "goahead": p.goAhead, "moveclass": p.moveClass, "calloff": p.callOff,
		"book": p.book, "pay": p.pay, "wait": p.wait, "leave": p.leave, "move": p.move, "answer": p.answer,
		"pick": p.pick, "headcount": p.headCount, "voucher": p.voucher,
		"order": p.order, "farm": p.farm, "kill": p.kill, "deliver": p.deliver, "skin": p.skin, "dropdemo": p.dropDemo, "closure": p.closure,
		"bill": p.bill, "yieldnote": p.yieldNote, "dinnermeat": p.dinnerMeat, "dinnerlots": p.dinnerLots,
		"cut": p.cut, "teach": p.teach, "sealkept": p.sealKept, "torack": p.toRack, "lot": p.lot,
		"cold": p.cold, "warm": p.warm, "release": p.release, "telldates": p.tellDates, "hooks": p.hooks,
		"unbag": p.unbag, "hang": p.hang, "smokelog": p.smokeLog, "outofsmoke": p.outOfSmoke, "chilllog": p.chillLog, "pack": p.pack, "shelve": p.shelve, "collect": p.collect,
	}[e.Do]
	if !ok {
		return fmt.Errorf("the story says %q, which nobody knows how to do", e.Do)
	}
	return do(ctx, e)
}

func (p *Player) class(ctx context.Context, e event) error {
	start, err := p.moment(e.Start)
	if err != nil {
		return err
	}
	_, err = p.Store.AddClass(ctx, p.by(e), shop.NewClass{Code: e.Code, Kind: e.Kind, Title: e.Title, StartsAt: start,
		Seats: e.Seats, MinSeats: -1, DemoSlabs: -1, Private: e.Private, FlatCents: e.Flat})
	return err
}

func (p *Player) publish(ctx context.Context, e event) error {
	return p.Store.Publish(ctx, p.by(e), e.Code)
}

func (p *Player) goAhead(ctx context.Context, e event) error {
	return p.Store.GoAhead(ctx, p.by(e), e.Cls)
}

func (p *Player) callOff(ctx context.Context, e event) error {
	return p.Store.CallOff(ctx, p.by(e), e.Cls, e.Reason)
}

func (p *Player) moveClass(ctx context.Context, e event) error {
	start, err := p.moment(e.Start)
	if err != nil {
		return err
	}
	return p.Store.MoveClass(ctx, p.by(e), e.Cls, start, "the slaughterhouse is closed that week")
}

func (p *Player) voucher(ctx context.Context, e event) error {
	n := shop.NewVoucher{Kind: "money", Cents: e.Paid, BuyerName: e.Buyer, BuyerEmail: mailOf(e.Buyer),
		ReceiverName: e.Receiver, ReceiverEmail: mailOf(e.Receiver), SendOn: e.SendOn}
	if e.Kind != "" {
		n.Kind, n.ClassKind = "seat", e.Kind
	}
	v, err := p.Store.SellVoucher(ctx, p.by(e), n, shop.PaymentIn{Cents: e.Paid, Method: "card", Key: "voucher " + e.Name})
	if err != nil {
		return err
	}
	p.codes[e.Name] = v.Code
	return nil
}

func mailOf(who string) string {
	first, _, _ := strings.Cut(strings.ToLower(who), " ")
	return first + "@post.example.test"
}

func (p *Player) order(ctx context.Context, e event) error {
	o, err := p.Store.DraftOrder(ctx, p.by(e), store.NewOrder{Kill: e.Kill, Farm: e.Farm, Species: e.Species,
		Animals: e.Animals.Count, Basis: "full", Classes: e.Classes})
	if err != nil {
		return err
	}
	_, err = p.Store.SendOrder(ctx, p.by(e), o.ID)
	return err
}

// orderOf finds the order for a species on a kill day.
func (p *Player) orderOf(ctx context.Context, e event) (*store.OrderView, error) {
	number, err := p.Store.OrderNumber(ctx, e.Kill, e.Species)
	if err != nil {
		return nil, err
	}
	return p.Store.OrderPage(ctx, number)
}

func (p *Player) farm(ctx context.Context, e event) error {
	o, err := p.orderOf(ctx, e)
	if err != nil {
		return err
	}
	_, err = p.Store.AnswerOrder(ctx, p.Store.OrderSecret(&o.Order), shop.FarmAnswer{Says: e.Answer, Words: e.Words})
	return err
}

func (p *Player) kill(ctx context.Context, e event) error {
	o, err := p.orderOf(ctx, e)
	if err != nil {
		return err
	}
	var animals []shop.KilledAnimal
	for _, a := range e.Animals.Each {
		animals = append(animals, shop.KilledAnimal{Tag: a.Tag, Hot: a.Hot, Condemned: a.Condemned, Age: inspection.Cattle(a.Age)})
	}
	_, err = p.Store.RecordKill(ctx, p.by(e), o.Order.ID, animals)
	return err
}

func (p *Player) deliver(ctx context.Context, e event) error {
	o, err := p.orderOf(ctx, e)
	if err != nil {
		return err
	}
	var sides []shop.DeliveredSide
	for i, came := range e.Sides {
		pieces := shop.Pieces(o.Order.Species)
		if len(came) != 0 && len(came) != len(pieces) { // none of a condemned one
			return fmt.Errorf("animal %d came in %d pieces, %s comes in %d", i+1, len(came), o.Order.Species, len(pieces))
		}
		for j, text := range came {
			w, err := unit.ParseWeight(text)
			if err != nil {
				return err
			}
			sides = append(sides, shop.DeliveredSide{Animal: i + 1, Which: pieces[j].Which, Cold: w})
		}
	}
	_, err = p.Store.ReceiveDelivery(ctx, p.by(e), o.Order.ID, "EST. 0000-DEMO", sides)
	return err
}

func (p *Player) skin(ctx context.Context, e event) error {
	o, err := p.orderOf(ctx, e)
	if err != nil {
		return err
	}
	r, err := p.Store.Recount(ctx, o.Order.ID)
	if err != nil {
		return err
	}
	for _, b := range r.Bellies {
		for _, which := range e.Which {
			if b.Number == e.Animal && b.Which == which {
				if err := p.Store.SetSkin(ctx, p.by(e), b.BellyID, true); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

func (p *Player) dropDemo(ctx context.Context, e event) error {
	c, err := p.Store.AnyClass(ctx, e.Cls)
	if err != nil {
		return err
	}
	return p.Store.DropDemo(ctx, p.by(e), c.ID, 1)
}

func (p *Player) closure(ctx context.Context, e event) error {
	from, err := unit.ParseDay(e.Start)
	if err != nil {
		return err
	}
	to, err := unit.ParseDay(e.End)
	if err != nil {
		return err
	}
	_, err = p.Store.CloseFloor(ctx, p.by(e), store.Closing{From: from, To: to, Species: strings.Split(e.Species, ","), Reason: e.Reason})
	return err
}
