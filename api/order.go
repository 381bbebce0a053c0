package api

import (
	"context"
	"fmt"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/inspection"
	"flitchbook/planner/unit"
)

type orderPath struct {
	Number int `path:"number" minimum:"1"`
}

type draftInput struct {
	Key  string `header:"Idempotency-Key" maxLength:"100"`
	Body struct {
		Kill    unit.Day `json:"kill"`
		Species string   `json:"species" enum:"pork,beef,lamb,deer"`
		Farm    string   `json:"farm,omitempty" doc:"Its code; the farm known longest when left out."`
		Animals int      `json:"animals" minimum:"1" maximum:"100"`
		Basis   string   `json:"basis" maxLength:"80" doc:"sold, expected, full, or a word of your own."`
		Classes []string `json:"classes,omitempty" doc:"Codes; every class planned for that kill when left out."`
	}
}

type orderOutput struct{ Body orderOut }

type orderOut struct {
	Number    int          `json:"number"`
	State     string       `json:"state"`
	Farm      string       `json:"farm"`
	Species   string       `json:"species"`
	Animals   int          `json:"animals"`
	Promised  int          `json:"promised"`
	Delivered int          `json:"delivered"`
	Condemned int          `json:"condemned"`
	Kill      unit.Day     `json:"kill"`
	Delivery  unit.Day     `json:"delivery"`
	OrderBy   unit.Instant `json:"order_by"`
	Answer    string       `json:"answer,omitempty"`
	Short     bool         `json:"short"`
	Over      bool         `json:"over"`
	Late      bool         `json:"late"`
	Lot       string       `json:"lot,omitempty"`
	ToFarm    unit.Money   `json:"to_farm" doc:"Hot weight of what was not condemned, at the price."`
	ToPlant   unit.Money   `json:"to_plant" doc:"Kill fees, condemned included."`
	Haul      unit.Money   `json:"haul"`
	Terms     []string     `json:"terms"`
	Why       []string     `json:"why" doc:"The reckoning it was drafted on, with every seat sold."`
}

func orderFrom(v *store.OrderView) *orderOutput {
	o := v.Order
	out := &orderOutput{orderOut{Number: o.Number, State: string(o.State), Farm: v.Farm.Code, Species: o.Species, Animals: o.Animals, Promised: o.Promised,
		Delivered: o.Delivered, Condemned: o.Condemned, Kill: v.Kill, Delivery: o.DeliverOn, OrderBy: o.OrderBy, Answer: o.Answer,
		Short: o.Short, Over: o.Over, Late: o.Late, Lot: v.Lot, ToFarm: v.Money.Farm, ToPlant: v.Money.Plant, Haul: v.Money.Haul, Terms: v.Terms, Why: []string{}}}
	for _, l := range v.Why.Plan.Full.Lines {
		out.Body.Why = append(out.Body.Why, lineText(l))
	}
	return out
}

type answerInput struct {
	Number int `path:"number" minimum:"1"`
	Body   struct {
		Answer  string `json:"answer" enum:"yes,fewer,no"`
		Animals int    `json:"animals,omitempty" minimum:"0" maximum:"100" doc:"With fewer: how many."`
		Words   string `json:"words,omitempty" maxLength:"1000"`
	}
}

type killInput struct {
	Number int `path:"number" minimum:"1"`
	Body   struct {
		Animals []killedIn `json:"animals" minItems:"1" maxItems:"100"`
	}
}

type killedIn struct {
	Tag       string      `json:"tag,omitempty" maxLength:"40"`
	Hot       unit.Weight `json:"hot,omitempty" doc:"Hot carcass weight; may be left out of a condemned one."`
	Condemned bool        `json:"condemned,omitempty"`
	Age       string      `json:"age,omitempty" enum:"under 30 months,30 months or older,30 months or older without its backbone" doc:"Of cattle; needed where a class cuts loins on the bone."`
}

type coldSideIn struct {
	Animal int         `json:"animal" minimum:"1" doc:"Its number within the order."`
	Which  string      `json:"which" enum:"L,R,W,LH,LF,RH,RF" doc:"Side, whole carcass, or quarter: left hind is LH."`
	Cold   unit.Weight `json:"cold"`
}

type deliveryInput struct {
	Number int `path:"number" minimum:"1"`
	Body   struct {
		Killed string       `json:"killed,omitempty" enum:"inspected,custom exempt,hunted,uninspected" doc:"How; inspected when left out. Anything else is turned away with the reason, which is kept."`
		Legend string       `json:"legend" maxLength:"80" doc:"Number on the inspection mark."`
		Sides  []coldSideIn `json:"sides" minItems:"1" maxItems:"200"`
	}
}

type recountOutput struct{ Body recountOut }

type recountOut struct {
	Slabs   int        `json:"slabs"`
	Wanted  int        `json:"wanted"`
	Short   int        `json:"short"`
	Over    int        `json:"over"`
	Bellies []bellyOut `json:"bellies"`
	Classes []shareOut `json:"classes"`
	Ways    []wayOut   `json:"ways_out"`
}

type bellyOut struct {
	ID     shop.BellyID `json:"id"`
	Tag    string       `json:"tag"`
	Side   unit.Weight  `json:"side"`
	Belly  unit.Weight  `json:"belly"`
	SkinOn bool         `json:"skin_on"`
	Net    unit.Weight  `json:"net"`
	Slabs  int          `json:"slabs"`
	Each   unit.Weight  `json:"each"`
	Clinic string       `json:"clinic,omitempty" doc:"Class that cuts its side up; it may be slabs from the next day on."`
}

type shareOut struct {
	Class  string `json:"class"`
	Wanted int    `json:"wanted"`
	Gets   int    `json:"gets"`
	Short  int    `json:"short"`
	Unfed  int    `json:"seats_on_sale_without_a_slab"`
}

type wayOut struct {
	Way   string       `json:"way"`
	What  string       `json:"what"`
	Gain  int          `json:"gain"`
	Why   string       `json:"why"`
	Act   string       `json:"act,omitempty" enum:"demo,skin,thaw" doc:"What to post to take it."`
	Belly shop.BellyID `json:"belly,omitempty"`
}

func recountFrom(r *store.Recount) *recountOutput {
	out := &recountOutput{recountOut{Slabs: r.Slabs, Wanted: r.Wanted, Short: r.Short, Over: r.Over, Bellies: []bellyOut{}, Classes: []shareOut{}, Ways: []wayOut{}}}
	for _, b := range r.Bellies {
		out.Body.Bellies = append(out.Body.Bellies, bellyOut{b.BellyID, b.Tag, b.Cold, shown(b.Weight), b.SkinOn, shown(b.Cut.Net), b.Cut.Slabs.Count, shown(b.Cut.Slabs.Each), b.Clinic})
	}
	for _, c := range r.Classes {
		out.Body.Classes = append(out.Body.Classes, shareOut{c.Code, c.Wanted, c.Gets, c.Short, c.Unfed})
	}
	for _, w := range r.Ways {
		out.Body.Ways = append(out.Body.Ways, wayOut{string(w.Remedy), w.What, w.Gain, w.Why, w.Act, w.Belly})
	}
	return out
}

type wayInput struct {
	Number int `path:"number" minimum:"1"`
	Body   struct {
		Act   string       `json:"act" enum:"demo,skin,skinless,thaw,unsold"`
		Belly shop.BellyID `json:"belly,omitempty"`
		Class shop.ClassID `json:"class,omitempty"`
		Seats int          `json:"seats,omitempty" minimum:"0" maximum:"500" doc:"With unsold: how many seats come off sale."`
	}
}

type cutListOutput struct {
	Body struct {
		Lot   string       `json:"lot"`
		Slabs []cutSlabOut `json:"slabs"`
	}
}

type cutSlabOut struct {
	Tag     string      `json:"tag"`
	Class   string      `json:"class"`
	Booking string      `json:"booking,omitempty"`
	Demo    bool        `json:"demo"`
	Belly   string      `json:"belly,omitempty" doc:"None: there is no meat for it."`
	Piece   int         `json:"piece,omitempty"`
	SkinOn  bool        `json:"skin_on"`
	Planned unit.Weight `json:"planned"`
	State   string      `json:"state"`
}

func cutListFrom(l *store.CutList) *cutListOutput {
	out := &cutListOutput{}
	out.Body.Lot, out.Body.Slabs = l.Lot, []cutSlabOut{}
	add := func(belly string, s store.CutSlab) {
		out.Body.Slabs = append(out.Body.Slabs, cutSlabOut{s.Tag, s.Class, s.Booking, s.Demo, belly, s.Piece, s.SkinOn, shown(s.Planned), string(s.State)})
	}
	for _, b := range l.Bellies {
		for _, s := range b.Slabs {
			add(b.Tag, s)
		}
	}
	for _, s := range l.Missing {
		add("", s)
	}
	return out
}

type reasonInput struct {
	Number int `path:"number" minimum:"1"`
	Body   struct {
		Reason string `json:"reason" maxLength:"300"`
	}
}

func (a *Server) orderOperations() {
	owner, staff := []shop.Role{shop.Owner}, []shop.Role{shop.Staff}
	view := func(ctx context.Context, number int) (*orderOutput, error) {
		v, err := a.Store.OrderPage(ctx, number)
		if err != nil {
			return nil, err
		}
		return orderFrom(v), nil
	}
	operation(a, http.MethodPost, "/orders", "draft-order", "Draft an order to a farm", owner,
		func(ctx context.Context, by shop.Actor, in *draftInput) (*orderOutput, error) {
			b := in.Body
			o, err := a.Store.DraftOrder(ctx, by, store.NewOrder{Kill: b.Kill, Farm: b.Farm, Species: b.Species, Animals: b.Animals, Basis: b.Basis, Classes: b.Classes,
				Once: store.Once{Key: in.Key, Fingerprint: fmt.Sprint(b.Kill, b.Species, b.Farm, b.Animals, b.Classes)}})
			if err != nil {
				return nil, err
			}
			return view(ctx, o.Number)
		})
	operation(a, http.MethodGet, "/orders/{number}", "order", "An order with its reckoning and money", owner,
		func(ctx context.Context, _ shop.Actor, in *orderPath) (*orderOutput, error) {
			return view(ctx, in.Number)
		})
	// act does one thing to an order and answers with the order as it then stands.
	act := func(ctx context.Context, number int, do func(shop.OrderID) error) (*orderOutput, error) {
		id, err := a.Store.OrderNumbered(ctx, number)
		if err == nil {
			err = do(id)
		}
		if err != nil {
			return nil, err
		}
		return view(ctx, number)
	}
	operation(a, http.MethodPost, "/orders/{number}/send", "send-order", "Ask the farm", owner,
		func(ctx context.Context, by shop.Actor, in *orderPath) (*orderOutput, error) {
			return act(ctx, in.Number, func(id shop.OrderID) error { _, err := a.Store.SendOrder(ctx, by, id); return err })
		})
	operation(a, http.MethodPost, "/orders/{number}/answer", "answer-order", "Write down what the farm said", owner,
		func(ctx context.Context, by shop.Actor, in *answerInput) (*orderOutput, error) {
			return act(ctx, in.Number, func(id shop.OrderID) error {
				_, err := a.Store.AnswerOrderFor(ctx, by, id, shop.FarmAnswer{Says: in.Body.Answer, Animals: in.Body.Animals, Words: in.Body.Words})
				return err
			})
		})
	operation(a, http.MethodPost, "/orders/{number}/calloff", "call-off-order", "Call an order off before the kill", owner,
		func(ctx context.Context, by shop.Actor, in *reasonInput) (*orderOutput, error) {
			return act(ctx, in.Number, func(id shop.OrderID) error { return a.Store.CallOffOrder(ctx, by, id, in.Body.Reason) })
		})
	operation(a, http.MethodPost, "/orders/{number}/kill", "record-kill", "Write down the kill", owner,
		func(ctx context.Context, by shop.Actor, in *killInput) (*orderOutput, error) {
			return act(ctx, in.Number, func(id shop.OrderID) error {
				var animals []shop.KilledAnimal
				for _, k := range in.Body.Animals {
					animals = append(animals, shop.KilledAnimal{Tag: k.Tag, Hot: k.Hot, Condemned: k.Condemned, Age: inspection.Cattle(k.Age)})
				}
				_, err := a.Store.RecordKill(ctx, by, id, animals)
				return err
			})
		})
	operation(a, http.MethodPost, "/orders/{number}/delivery", "receive-delivery", "Weigh a delivery in", staff,
		func(ctx context.Context, by shop.Actor, in *deliveryInput) (*recountOutput, error) {
			id, err := a.Store.OrderNumbered(ctx, in.Number)
			if err != nil {
				return nil, err
			}
			if k := in.Body.Killed; k != "" {
				if err := a.Store.MayComeIn(ctx, by, id, inspection.Kill(k)); err != nil {
					return nil, err
				}
			}
			var sides []shop.DeliveredSide
			for _, sd := range in.Body.Sides {
				sides = append(sides, shop.DeliveredSide{Animal: sd.Animal, Which: sd.Which, Cold: sd.Cold})
			}
			r, err := a.Store.ReceiveDelivery(ctx, by, id, in.Body.Legend, sides)
			if err != nil {
				return nil, err
			}
			return recountFrom(r), nil
		})
	recount := func(ctx context.Context, id shop.OrderID) (*recountOutput, error) {
		r, err := a.Store.Recount(ctx, id)
		if err != nil {
			return nil, err
		}
		return recountFrom(r), nil
	}
	operation(a, http.MethodGet, "/orders/{number}/recount", "recount", "Slabs to be had and wanted, and the ways out", staff,
		func(ctx context.Context, _ shop.Actor, in *orderPath) (*recountOutput, error) {
			id, err := a.Store.OrderNumbered(ctx, in.Number)
			if err != nil {
				return nil, err
			}
			return recount(ctx, id)
		})
	operation(a, http.MethodPost, "/orders/{number}/ways", "take-way-out", "Take one of the ways out", owner,
		func(ctx context.Context, by shop.Actor, in *wayInput) (*recountOutput, error) {
			id, err := a.Store.OrderNumbered(ctx, in.Number)
			if err != nil {
				return nil, err
			}
			b := in.Body
			switch b.Act {
			case "demo":
				err = a.Store.DropDemos(ctx, by, id)
			case "skin", "skinless":
				err = a.Store.SetSkin(ctx, by, b.Belly, b.Act == "skin")
			case "thaw":
				err = a.Store.ThawBelly(ctx, by, b.Belly, b.Class)
			default:
				err = a.Store.TakeUnsold(ctx, by, b.Class, b.Seats)
			}
			if err != nil {
				return nil, err
			}
			return recount(ctx, id)
		})
	operation(a, http.MethodPost, "/orders/{number}/cutlist", "make-cut-list", "Make the cut list or bring it up to date", staff,
		func(ctx context.Context, by shop.Actor, in *orderPath) (*cutListOutput, error) {
			id, err := a.Store.OrderNumbered(ctx, in.Number)
			if err != nil {
				return nil, err
			}
			l, err := a.Store.MakeCutList(ctx, by, id)
			if err != nil {
				return nil, err
			}
			return cutListFrom(l), nil
		})
	operation(a, http.MethodGet, "/orders/{number}/cutlist", "cut-list", "The cut list", staff,
		func(ctx context.Context, _ shop.Actor, in *orderPath) (*cutListOutput, error) {
			l, err := a.Store.CutListOf(ctx, in.Number)
			if err != nil {
				return nil, err
			}
			return cutListFrom(l), nil
		})
}
