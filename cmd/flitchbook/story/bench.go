package story

import (
	"context"
	"fmt"
	"hash/fnv"
	"slices"
	"strings"
	"time"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/heat"
	"flitchbook/planner/unit"
)

type shopMoney = unit.Money

// vary gives a number from 0 to n-1 that depends on a tag alone, so that the invented
// slabs differ and yet each telling of the story is the same.
func vary(tag string, n uint32) int64 {
	h := fnv.New32a()
	h.Write([]byte(tag))
	return int64(h.Sum32() % n)
}

func (p *Player) scan(e event, tag, step string) store.Scan {
	return store.Scan{Tag: tag, Once: fmt.Sprintf("story %s %s %s", e.At, step, tag)}
}

func (p *Player) cut(ctx context.Context, e event) error {
	o, err := p.orderOf(ctx, e)
	if err != nil {
		return err
	}
	list, err := p.Store.MakeCutList(ctx, p.by(e), o.Order.ID)
	if err != nil {
		return err
	}
	for _, b := range list.Bellies {
		for _, sl := range b.Slabs {
			if sl.Class != e.Cls || sl.State != shop.Wanted {
				continue
			}
			w := sl.Planned.Round(unit.Pound / 100)
			if told, ok := e.Weights[sl.Tag]; ok {
				w = told
			}
			if err := p.Store.CutSlab(ctx, p.by(e), p.scan(e, sl.Tag, "cut"), store.Cutting{Weight: w, SkinOn: sl.SkinOn}); err != nil {
				return err
			}
		}
	}
	return nil
}

// teach is a class from the door to the last sealed bag.
func (p *Player) teach(ctx context.Context, e event) error {
	list, err := p.Store.DoorList(ctx, e.Cls)
	if err != nil {
		return err
	}
	for _, v := range list.Parties {
		for _, m := range v.People {
			if m.State != shop.Firm {
				continue
			}
			if slices.Contains(e.Missed, v.Number) {
				err = p.Store.MarkMissed(ctx, p.by(e), m.SeatID)
			} else {
				if m.Age > 0 && m.Age < 18 && m.Kind == shop.GuestSeat {
					if err := p.Store.SignGuardian(ctx, p.by(e), m.GuestID); err != nil {
						return err
					}
				}
				err = p.Store.CheckIn(ctx, p.by(e), m.SeatID)
			}
			if err != nil {
				return err
			}
		}
	}
	tags, err := p.Store.Tags(ctx, e.Cls, shop.Cut)
	if err != nil {
		return err
	}
	if len(tags) > 0 {
		if err := p.cureClass(ctx, e, tags); err != nil {
			return err
		}
	}
	return p.Store.MarkTaught(ctx, p.by(e), e.Cls)
}

func (p *Player) cureClass(ctx context.Context, e event, tags []string) error {
	if err := p.checkScales(ctx, e); err != nil {
		return err
	}
	if _, err := p.Store.KitClass(ctx, p.by(e), e.Cls); err != nil {
		return err
	}
	for _, tag := range tags {
		v, err := p.Store.Slab(ctx, tag)
		if err != nil {
			return err
		}
		number := 0
		if v.BookingID != 0 {
			b, err := p.Store.BookingByID(ctx, v.BookingID)
			if err != nil {
				return err
			}
			number = b.Number
		}
		if slices.Contains(e.Missed, number) {
			continue
		}
		if err := p.cureSlab(ctx, e, v); err != nil {
			return err
		}
	}
	return nil
}

func (p *Player) checkScales(ctx context.Context, e event) error {
	if p.bench[e.At[:10]] {
		return nil
	}
	p.bench[e.At[:10]] = true
	return p.Store.CheckScale(ctx, p.by(e), "cure scale", 5*unit.Gram)
}

func (p *Player) cureSlab(ctx context.Context, e event, v *store.SlabView) error {
	if v.BookingID != 0 {
		if err := p.Store.SeatWeight(ctx, p.by(e), p.scan(e, v.Tag, "seat"), v.Green-unit.Weight(vary(v.Tag, 4))*unit.Pound/100); err != nil {
			return err
		}
	}
	if v.Ask {
		jar := "PL"
		number := strings.TrimLeft(strings.TrimPrefix(v.Ref, "K"), "0")
		if left := e.Table[number]; len(left) > 0 {
			jar, e.Table[number] = left[0], left[1:]
		}
		if err := p.Store.PickAtTable(ctx, p.by(e), p.scan(e, v.Tag, "pick"), jar); err != nil {
			return err
		}
	}
	v, err := p.Store.Slab(ctx, v.Tag)
	if err != nil {
		return err
	}
	k := v.Ticket
	if k == nil {
		return fmt.Errorf("%s has no ticket", v.Tag)
	}
	in := store.Weighed{Salt: k.Salt.Number(unit.Gram, 0), Sugar: k.Sugar.Number(unit.Gram, 0), Cure: k.Cure.Number(unit.Gram, 1),
		Scale: "cure scale", Cup: v.Tag}
	if k.Spice > 0 {
		in.Spice = k.Spice.Number(unit.Gram, 0)
	}
	if err := p.Store.WeighOut(ctx, p.by(e), p.scan(e, v.Tag, "weigh"), in); err != nil {
		return err
	}
	by, place := p.by(e), ""
	if i := slices.Index(e.Overflow, v.Tag); i >= 0 {
		by, place = p.staff["Odile"], fmt.Sprintf("W%d", i+1)
	}
	return p.Store.Seal(ctx, by, p.scan(e, v.Tag, "seal"), place)
}

// sealKept cures what a guest who missed the class left behind (R43).
func (p *Player) sealKept(ctx context.Context, e event) error {
	v, err := p.Store.BookingByNumber(ctx, e.Number)
	if err != nil {
		return err
	}
	if err := p.checkScales(ctx, e); err != nil {
		return err
	}
	for _, m := range v.People {
		for _, k := range m.Picks {
			sl, err := p.Store.Slab(ctx, k.Tag)
			if err != nil {
				return err
			}
			if err := p.cureSlab(ctx, e, sl); err != nil {
				return err
			}
		}
	}
	return nil
}

func (p *Player) toRack(ctx context.Context, e event) error {
	for _, tag := range e.Tags {
		if err := p.Store.MoveInCure(ctx, p.by(e), p.scan(e, tag, "rack"), ""); err != nil {
			return err
		}
	}
	return nil
}

func (p *Player) lot(ctx context.Context, e event) error {
	return p.Store.OpenLot(ctx, p.by(e), store.NewLot{Ingredient: e.Ingredient, Code: e.Code, Supplier: "Mill Lane Sundries", Replaces: e.Replaces})
}

// probe is the thermometer of a room.
var probe = shop.Actor{Kind: "shop", Name: "probe"}

func (p *Player) cold(ctx context.Context, e event) error {
	until, err := p.moment(e.Until)
	if err != nil {
		return err
	}
	if e.at > until {
		return nil
	}
	temp := e.Temp
	if e.at == until {
		temp = 38 * unit.Fahrenheit
	}
	if _, err := p.Store.Readings(ctx, probe, e.Room, []heat.Reading{{At: e.at, Temp: temp}}); err != nil {
		return err
	}
	e.at = e.at.Add(15 * time.Minute)
	e.Event.At = e.at.In(p.Store.Loc).Format("2006-01-02 15:04")
	p.insert(e)
	return nil
}

func (p *Player) warm(ctx context.Context, e event) error {
	if len(e.Readings) == 0 {
		return nil
	}
	temp, err := unit.ParseTemp(e.Readings[0][1])
	if err != nil {
		return err
	}
	if _, err := p.Store.Readings(ctx, probe, e.Room, []heat.Reading{{At: e.at, Temp: temp}}); err != nil {
		return err
	}
	e.Readings = e.Readings[1:]
	if len(e.Readings) == 0 {
		return nil
	}
	e.Event.At = e.Event.At[:11] + e.Readings[0][0]
	if e.at, err = p.moment(e.Event.At); err != nil {
		return err
	}
	p.insert(e)
	return nil
}

func (p *Player) release(ctx context.Context, e event) error {
	holds, err := p.Store.Holds(ctx)
	if err != nil {
		return err
	}
	for _, h := range holds {
		if h.State == shop.HoldOpen {
			if err := p.Store.Release(ctx, p.by(e), h.ID, nil, e.Why); err != nil {
				return err
			}
		}
	}
	return nil
}

func (p *Player) tellDates(ctx context.Context, e event) error {
	_, err := p.Store.TellDates(ctx, p.by(e))
	return err
}

func (p *Player) hooks(ctx context.Context, e event) error {
	return p.Store.SetHouseHooks(ctx, p.by(e), e.Day, e.House)
}

// unbag plans the load of the next day and rinses what will hang in it.
func (p *Player) unbag(ctx context.Context, e event) error {
	plan, err := p.Store.PlanLoad(ctx, p.by(e), e.Smoke)
	if err != nil {
		return err
	}
	for _, h := range plan.Hangings {
		v, err := p.Store.Slab(ctx, h.Tag)
		if err != nil {
			return err
		}
		drained := v.Green.MulDiv(965+vary(h.Tag, 20), 1000).Round(unit.Pound / 100)
		if err := p.Store.Rinse(ctx, p.by(e), p.scan(e, h.Tag, "rinse"), drained); err != nil {
			return err
		}
	}
	return nil
}

func (p *Player) hang(ctx context.Context, e event) error {
	sheet, err := p.Store.SmokeSheet(ctx, e.Day)
	if err != nil {
		return err
	}
	for _, l := range sheet.Lines {
		if err := p.Store.Hang(ctx, p.by(e), p.scan(e, l.Tag, "hang"), l.Hook); err != nil {
			return err
		}
	}
	return nil
}

func (p *Player) outOfSmoke(ctx context.Context, e event) error {
	return p.each(ctx, shop.InSmoke, func(tag string) error {
		return p.Store.OutOfSmoke(ctx, p.by(e), p.scan(e, tag, "out"), e.Temp+unit.Temp(vary(tag, 40)*10))
	})
}

// smokeLog is the sheet of one load typed in before it comes out: the wood, the house, and
// the core of the slab on the first hook.
func (p *Player) smokeLog(ctx context.Context, e event) error {
	if err := p.Store.SetWood(ctx, p.by(e), e.Day, e.Wood); err != nil {
		return err
	}
	sheet, err := p.Store.SmokeSheet(ctx, e.Day)
	if err != nil || len(sheet.Lines) == 0 {
		return err
	}
	var lines []store.LineIn
	for _, l := range e.Log {
		in, err := p.line(e, l[0], l[1], l[2])
		if err != nil {
			return err
		}
		in.Tag = sheet.Lines[0].Tag
		lines = append(lines, in)
	}
	return p.Store.AddLines(ctx, p.by(e), e.Day, shop.SmokePhase, lines)
}

// chillLog is how the load cooled, by the warmest slab.
func (p *Player) chillLog(ctx context.Context, e event) error {
	var lines []store.LineIn
	for _, r := range e.Readings {
		in, err := p.line(e, r[0], "", r[1])
		if err != nil {
			return err
		}
		lines = append(lines, in)
	}
	return p.Store.AddLines(ctx, p.by(e), e.Day, shop.ChillPhase, lines)
}

func (p *Player) line(e event, clock, house, core string) (in store.LineIn, err error) {
	if in.At, err = p.moment(e.Day.String() + " " + clock); err != nil {
		return in, err
	}
	if house != "" {
		t, err := unit.ParseTemp(house)
		if err != nil {
			return in, err
		}
		in.House = &t
	}
	t, err := unit.ParseTemp(core)
	in.Core = &t
	return in, err
}

func (p *Player) pack(ctx context.Context, e event) error {
	return p.each(ctx, shop.Resting, func(tag string) error {
		v, err := p.Store.Slab(ctx, tag)
		if err != nil {
			return err
		}
		return p.Store.Pack(ctx, p.by(e), p.scan(e, tag, "pack"), v.Green.MulDiv(830+vary(tag, 50), 1000).Round(unit.Pound/100))
	})
}

func (p *Player) shelve(ctx context.Context, e event) error {
	return p.each(ctx, shop.Packed, func(tag string) error {
		return p.Store.Shelve(ctx, p.by(e), p.scan(e, tag, "shelf"), "")
	})
}

func (p *Player) each(ctx context.Context, state shop.SlabState, do func(tag string) error) error {
	tags, err := p.Store.Tags(ctx, "", state)
	if err != nil {
		return err
	}
	var failed []string
	for _, tag := range tags {
		if err := do(tag); err != nil {
			failed = append(failed, err.Error())
		}
	}
	if failed != nil {
		return fmt.Errorf("%s", strings.Join(failed, "; "))
	}
	return nil
}
