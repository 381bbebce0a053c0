package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/demand"
	"flitchbook/planner/season"
	"flitchbook/planner/unit"
)

// NewOrder is what the owner decides when drafting an order.
type NewOrder struct {
	Kill    unit.Day
	Farm    string // its code; "": the farm known longest for the species
	Species string
	Animals int
	Basis   string   // "sold", "expected", "full" or the owner's own words
	Classes []string // codes; none: every class planned for that kill without an order
	Once    Once
}

// OrderWhy is the reckoning an order was drafted on, kept as it was that day.
type OrderWhy struct {
	Basis   string
	Farm    string
	Breed   string
	HCW     unit.Weight
	Classes []demand.Class
	Plan    demand.Plan
	Problem string `json:",omitempty"` // why no reckoning was possible
	At      unit.Instant
}

// DraftOrder writes an order down, with the reckoning it rests on; nothing is sent yet.
// The classes it feeds are tied to it.
func (s *Store) DraftOrder(ctx context.Context, by shop.Actor, n NewOrder) (*shop.Order, error) {
	var o *shop.Order
	err := s.tx(ctx, func(t tx) (err error) {
		if ref, seen, err := t.repeated(n.Once, "draft order", by); err != nil {
			return err
		} else if seen {
			o, err = take[shop.Order](t.DB, "The order", "number = ?", ref)
			return err
		}
		if o, err = t.draftOrder(by, n); err != nil {
			return err
		}
		return t.remember(n.Once, "draft order", by, fmt.Sprint(o.Number))
	})
	if err != nil {
		return nil, err
	}
	return o, nil
}

func (t tx) draftOrder(by shop.Actor, n NewOrder) (*shop.Order, error) {
	if n.Animals < 1 || n.Animals > 100 {
		var w shop.Wrong
		w.Add("animals", "Between 1 and 100 animals.")
		return nil, w.Err()
	}
	if n.Kill <= t.today {
		return nil, shop.Stop("kill_past", "The kill of %s has been; plan another day first.", n.Kill.Show())
	}
	var farm shop.FarmID
	if n.Farm != "" {
		f, err := take[shop.Farm](t.DB, "The farm", "code = ?", n.Farm)
		if err != nil {
			return nil, err
		}
		farm = f.ID
	}
	y, err := yieldOf(t.DB, farm, n.Species)
	if err != nil {
		return nil, err
	}
	calls, kd, err := t.orderedCalls(by, n)
	if err != nil {
		return nil, err
	}
	if len(calls) == 0 {
		return nil, shop.Stop("nothing_planned", "No %s class without an order is planned for %s; look at the meat sheet again.", n.Species, n.Kill.Show())
	}
	book, err := t.s.openBook(t.DB, kd.PlantID)
	if err != nil {
		return nil, err
	}
	book.Book.Taken = nil // slots are taken when the farm has promised
	c, err := candidate(book, season.Group{Calls: seasonCalls(calls), Animals: 0}, kd.Day, 0)
	if err != nil {
		return nil, err
	}
	if c.OrderBy == 0 {
		return nil, shop.Stop("kill_day", "%s fits none of these classes.", kd.Day.Show())
	}
	deliver := c.Deliver
	if deliver == 0 {
		deliver = kd.DeliveryDay
	}
	why := OrderWhy{Basis: trim(n.Basis), Farm: y.Farm.Name, Breed: y.Row.Breed, HCW: y.Row.HCW, At: t.now}
	in, plan, err := t.s.reckon(y, calls)
	why.Classes, why.Plan = in.Classes, plan
	var none *demand.NoSlabs
	if errors.As(err, &none) {
		why.Problem = none.Error()
	} else if err != nil {
		return nil, err
	}
	asJSON, err := json.Marshal(why)
	if err != nil {
		return nil, err
	}
	o := &shop.Order{FarmID: y.Farm.ID, KillDayID: kd.ID, Species: n.Species, State: shop.Needed, Animals: n.Animals,
		DeliverOn: deliver, OrderBy: c.OrderByAt(t.s.Rules.DecideHour, t.s.Loc),
		PriceCents: y.Row.PricePerPound, KillFee: y.Row.KillFee, HaulCents: y.Farm.HaulCents, Why: string(asJSON), CreatedAt: t.now}
	if err := t.Raw("SELECT coalesce(max(number), 0) + 1 FROM orders").Scan(&o.Number).Error; err != nil {
		return nil, err
	}
	o.LinkNo, o.TokenHash = t.s.newLink("order")
	if err := t.Create(o).Error; err != nil {
		if isDuplicate(err) {
			return nil, shop.ErrStale // two orders were numbered at once
		}
		return nil, err
	}
	for _, m := range calls {
		if err := t.tieClass(o, m); err != nil {
			return nil, err
		}
	}
	if err := t.orderEntries(o, kd); err != nil {
		return nil, err
	}
	return o, t.note(by, "order", int64(o.ID), "drafted", "", string(o.State),
		fmt.Sprintf("%s from %s, kill %s, on %s", shop.AnimalsIn(o.Species, o.Animals), y.Farm.Name, kd.Day.Show(), why.Basis))
}

// orderedCalls finds the classes an order shall feed. Classes that are named and not
// planned for that kill yet are planned for it now, if it fits them.
func (t tx) orderedCalls(by shop.Actor, n NewOrder) ([]meatCall, *shop.KillDay, error) {
	for _, code := range n.Classes {
		c, err := take[shop.Class](t.DB, "Class "+code, "code = ?", code)
		if err != nil {
			return nil, nil, err
		}
		if c.OrderID != 0 {
			return nil, nil, shop.Stop("ordered", "The meat of %s is ordered already.", code)
		}
		if c.KillDayID != 0 {
			kd, err := take[shop.KillDay](t.DB, "The kill day", "id = ?", c.KillDayID)
			if err != nil {
				return nil, nil, err
			}
			if kd.Day == n.Kill {
				continue
			}
		}
		if err := t.planKill(by, c.ID, n.Kill); err != nil {
			return nil, nil, err
		}
	}
	kd, err := take[shop.KillDay](t.DB, "A class planned for "+n.Kill.Show(), "day = ?", n.Kill)
	if err != nil {
		return nil, nil, err
	}
	where, args := "kill_day_id = ? AND order_id = 0 AND kind_id IN (SELECT id FROM class_kinds WHERE species = ?)", []any{kd.ID, n.Species}
	if len(n.Classes) > 0 {
		where, args = where+" AND code IN ?", append(args, n.Classes)
	}
	calls, err := t.s.meatCalls(t.DB, where, args...)
	return calls, kd, err
}

// tieClass ties a class to the order that feeds it.
func (t tx) tieClass(o *shop.Order, m meatCall) error {
	res := t.Model(&shop.Class{}).Where("id = ? AND order_id = 0", m.Class.ID).
		Updates(map[string]any{"order_id": o.ID, "revision": gorm.Expr("revision + 1")})
	if err := changed(res, shop.ErrStale); err != nil {
		return err
	}
	line := shop.OrderLine{OrderID: o.ID, ClassID: m.Class.ID, Piece: m.Kind.Piece}
	switch u, _ := m.Kind.FedBy(); u {
	case demand.Belly:
		line.Piece, line.Wanted = "slab", m.Call.Seats.Full+m.Call.Second+m.Call.Demo
		line.Reason = fmt.Sprintf("%d seats, %d second, %d demo", m.Call.Seats.Full, m.Call.Second, m.Call.Demo)
	default:
		line.Wanted = (m.Call.Seats.Full + m.Call.PerUnit - 1) / m.Call.PerUnit
		line.Reason = fmt.Sprintf("up to %d guests a %s", m.Call.PerUnit, m.Kind.Piece)
	}
	return t.Create(&line).Error
}

// orderEntries puts the order's three dates into the calendars (R41).
func (t tx) orderEntries(o *shop.Order, kd *shop.KillDay) error {
	what := fmt.Sprintf("%s: %s", o.Ref(), shop.AnimalsIn(o.Species, o.Animals))
	if o.Promised > 0 {
		what = fmt.Sprintf("%s: %s", o.Ref(), shop.AnimalsIn(o.Species, o.Promised))
	}
	for _, e := range []shop.Entry{
		{Kind: "order-by", StartsAt: o.OrderBy, EndsAt: o.OrderBy, Title: what + ", order by now"},
		{Kind: "kill", Day: kd.Day, Title: what + ", kill"},
		{Kind: "delivery", Day: o.DeliverOn, Title: what + ", delivery"},
	} {
		e.UID, e.Subject, e.SubjectID = t.s.uid(e.Kind, int64(o.ID)), "order", int64(o.ID)
		if _, err := t.setEntry(e); err != nil {
			return err
		}
	}
	return nil
}

// moveOrder moves an order along the table of states, or says that a colleague was
// faster. set carries the other columns of the change.
func (t tx) moveOrder(by shop.Actor, o *shop.Order, to shop.OrderState, detail string, set map[string]any) error {
	if err := shop.OrderMoves.Check(o.State, to); err != nil {
		return err
	}
	if set == nil {
		set = map[string]any{}
	}
	set["state"], set["revision"] = to, o.Revision+1
	res := t.Model(&shop.Order{}).Where("id = ? AND state = ? AND revision = ?", o.ID, o.State, o.Revision).Updates(set)
	if err := changed(res, shop.ErrMoved); err != nil {
		return err
	}
	from := o.State
	fresh, err := take[shop.Order](t.DB, "The order", "id = ?", o.ID)
	if err != nil {
		return err
	}
	*o = *fresh
	return t.note(by, "order", int64(o.ID), string(to), string(from), string(to), detail)
}

// SendOrder asks the farm: the slip goes out with its private link, and a reminder is
// laid down for some days before the order-by.
func (s *Store) SendOrder(ctx context.Context, by shop.Actor, id shop.OrderID) (*shop.Order, error) {
	var o *shop.Order
	err := s.tx(ctx, func(t tx) (err error) {
		if o, err = take[shop.Order](t.DB, "The order", "id = ?", id); err != nil {
			return err
		}
		return t.sendOrder(by, o)
	})
	if err != nil {
		return nil, err
	}
	return o, nil
}

func (t tx) sendOrder(by shop.Actor, o *shop.Order) error {
	kd, err := take[shop.KillDay](t.DB, "The kill day", "id = ?", o.KillDayID)
	if err != nil {
		return err
	}
	if kd.Day <= t.today {
		return shop.Stop("kill_past", "The kill of %s has been; call this order off.", kd.Day.Show())
	}
	if err := t.whyNoSlot(o, o.Animals); err != nil {
		return err
	}
	if err := t.moveOrder(by, o, shop.Asked, "", map[string]any{"asked_at": t.now}); err != nil {
		return err
	}
	farm, f, err := t.slipFacts(o, kd)
	if err != nil {
		return err
	}
	n := shop.Notice{Key: fmt.Sprintf("order-asked/%d", o.ID), Kind: shop.NoticeOrderAsked, ToName: farm.Name, ToAddr: farm.Email, Subject: "order", SubjectID: int64(o.ID)}
	if err := t.tell(n, f); err != nil {
		return err
	}
	return t.remindFarm(o, farm, f, fmt.Sprintf("order-remind/%d", o.ID))
}

// remindFarm lays down the reminder some days before the order-by.
func (t tx) remindFarm(o *shop.Order, farm *shop.Farm, f shop.Facts, key string) error {
	remind := (o.OrderBy.Day(t.s.Loc) - unit.Day(t.s.Rules.RemindFarm)).At(t.s.Rules.MorningHour, 0, t.s.Loc)
	if remind <= t.now {
		return nil
	}
	return t.tell(shop.Notice{Key: key, Kind: shop.NoticeOrderRemind, ToName: farm.Name, ToAddr: farm.Email, Subject: "order", SubjectID: int64(o.ID), DueAt: remind}, f)
}

// slipFacts is what the slip says.
func (t tx) slipFacts(o *shop.Order, kd *shop.KillDay) (*shop.Farm, shop.Facts, error) {
	farm, err := take[shop.Farm](t.DB, "The farm", "id = ?", o.FarmID)
	if err != nil {
		return nil, shop.Facts{}, err
	}
	plant, err := take[shop.Plant](t.DB, "The slaughterhouse", "id = ?", kd.PlantID)
	if err != nil {
		return nil, shop.Facts{}, err
	}
	f := shop.Facts{Ref: o.Ref(), Farm: farm.Name, Plant: plant.Name, Species: o.Species, Animals: o.Animals, Promised: o.Promised,
		KillDay: kd.Day, DeliverOn: o.DeliverOn, Until: o.OrderBy, Lines: Terms(*o)}
	if y, err := yieldOf(t.DB, o.FarmID, o.Species); err == nil {
		f.HangWeight = y.Row.HCW
	}
	return farm, f, nil
}

// Terms are the lines of an order on who pays what and who bears a condemned carcass
// (R23a). They stand on the slip before the farm answers.
func Terms(o shop.Order) []string {
	return []string{
		fmt.Sprintf("We pay %s a pound of hot carcass weight, and %s haul for each animal delivered.", o.PriceCents, o.HaulCents),
		fmt.Sprintf("We pay the plant's kill fee of %s for each animal killed.", o.KillFee),
		"A carcass condemned at inspection is borne by the farm: it is not paid for. Its kill fee is still paid by the shop.",
	}
}

// CallOffOrder ends an order before the kill: its slots are free again, its classes are
// without meat again, the farm is told if it had been asked.
func (s *Store) CallOffOrder(ctx context.Context, by shop.Actor, id shop.OrderID, reason string) error {
	return s.tx(ctx, func(t tx) error {
		o, err := take[shop.Order](t.DB, "The order", "id = ?", id)
		if err != nil {
			return err
		}
		return t.callOffOrder(by, o, reason)
	})
}

func (t tx) callOffOrder(by shop.Actor, o *shop.Order, reason string) error {
	if trim(reason) == "" {
		var w shop.Wrong
		w.Add("reason", "Say why; the farm reads it.")
		return w.Err()
	}
	was := o.State
	if err := t.moveOrder(by, o, shop.OrderOff, trim(reason), nil); err != nil {
		return err
	}
	if err := t.freeSlots(o, o.Slots); err != nil {
		return err
	}
	if err := t.endOrder(o); err != nil {
		return err
	}
	if was == shop.Needed {
		return nil // nobody was asked
	}
	kd, err := take[shop.KillDay](t.DB, "The kill day", "id = ?", o.KillDayID)
	if err != nil {
		return err
	}
	farm, f, err := t.slipFacts(o, kd)
	if err != nil {
		return err
	}
	f.Reason = trim(reason)
	f.Lines = []string{fmt.Sprintf("%s is called off: %s", o.Ref(), f.Reason)}
	return t.tell(shop.Notice{Key: fmt.Sprintf("order-off/%d", o.ID), Kind: shop.NoticeOrderChanged, ToName: farm.Name, ToAddr: farm.Email, Subject: "order", SubjectID: int64(o.ID)}, f)
}

// endOrder lets go of everything that hung on an order that will not be: its classes,
// its reminders and its dates.
func (t tx) endOrder(o *shop.Order) error {
	if err := t.Model(&shop.Class{}).Where("order_id = ?", o.ID).
		Updates(map[string]any{"order_id": 0, "revision": gorm.Expr("revision + 1")}).Error; err != nil {
		return err
	}
	if err := t.untell("order", int64(o.ID)); err != nil {
		return err
	}
	for _, kind := range []string{"order-by", "kill", "delivery"} {
		if err := t.cancelEntry(t.s.uid(kind, int64(o.ID))); err != nil {
			return err
		}
	}
	return nil
}
