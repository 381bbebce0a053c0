package api

import (
	"context"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/cure"
	"flitchbook/planner/unit"
)

type folderInput struct {
	Day string `path:"day" maxLength:"10" example:"2026-11-08"`
}

type folderOutput struct{ Body FolderOut }

// FolderOut is everything written down on one date.
type FolderOut struct {
	Day     unit.Day        `json:"day"`
	Keep    unit.Day        `json:"keep_to"`
	Meat    []FolderMeat    `json:"meat"`
	Scales  []FolderScale   `json:"scale_checks"`
	Weighed []FolderWeighed `json:"weigh_outs"`
	Rooms   []FolderRoom    `json:"rooms"`
	Holds   []FolderHold    `json:"holds"`
	Refused []FolderStep    `json:"not_counted"`
	Smoked  []FolderStep    `json:"smoke"`
	Packed  []FolderStep    `json:"packed"`
	Added   []FolderStep    `json:"added" doc:"Steps with a reason, and those received later than they were done."`
	Grinds  []GrindEntryOut `json:"ground"`
	Signed  []FolderSigned  `json:"signed"`
}

// FolderMeat is a delivery.
type FolderMeat struct {
	Lot    string   `json:"lot"`
	Farm   string   `json:"farm"`
	Plant  string   `json:"plant"`
	Legend string   `json:"inspection_mark"`
	By     string   `json:"received_by"`
	Pieces []string `json:"pieces"`
}

// FolderScale is a check of a scale.
type FolderScale struct {
	Scale  string       `json:"scale"`
	At     unit.Instant `json:"at"`
	Shown  unit.Weight  `json:"shown" doc:"For the 5 g weight."`
	Passed bool         `json:"passed"`
	By     string       `json:"by"`
}

// FolderWeighed is a weigh-out beside its limits.
type FolderWeighed struct {
	Tag    string       `json:"tag"`
	At     unit.Instant `json:"at"`
	Green  unit.Weight  `json:"green"`
	Ticket unit.Weight  `json:"ticket" doc:"Curing salt wanted."`
	Cure   unit.Weight  `json:"curing_salt"`
	Off    string       `json:"off"`
	PPM    cure.PPM     `json:"nitrite_in"`
	Limits string       `json:"may_be"`
	Passed bool         `json:"passed"`
	Reason string       `json:"reason,omitempty"`
	By     string       `json:"by"`
}

// FolderRoom is a cold room's day.
type FolderRoom struct {
	Room     string      `json:"room"`
	Readings []ReadingIn `json:"readings"`
	Gaps     []FolderGap `json:"gaps"`
}

// FolderGap is a stretch without readings.
type FolderGap struct {
	From unit.Instant `json:"from"`
	To   unit.Instant `json:"to"`
	Said []string     `json:"said"`
}

// FolderHold is a hold that stood on the day, with what was decided, whenever that was.
type FolderHold struct {
	Room     string           `json:"room,omitempty"`
	Reason   string           `json:"reason"`
	OpenedAt unit.Instant     `json:"opened_at"`
	OpenedBy string           `json:"opened_by"`
	Tags     []string         `json:"tags"`
	Decided  []FolderDecision `json:"decisions"`
}

// FolderDecision is what a named person decided on a hold.
type FolderDecision struct {
	At   unit.Instant `json:"at"`
	By   string       `json:"by"`
	What string       `json:"what"`
	Why  string       `json:"why"`
}

// FolderStep is a step of a slab.
type FolderStep struct {
	Tag      string         `json:"tag"`
	From     shop.SlabState `json:"from"`
	To       shop.SlabState `json:"to"`
	Done     unit.Instant   `json:"done_at"`
	Received unit.Instant   `json:"received_at"`
	By       string         `json:"by"`
	Reading  string         `json:"reading,omitempty"`
	Reason   string         `json:"reason,omitempty"`
}

// FolderSigned is a person and what they did.
type FolderSigned struct {
	Name string   `json:"name"`
	What []string `json:"what"`
}

// DrillOut is a tracing drill.
type DrillOut struct {
	ID         int64        `json:"id"`
	Tag        string       `json:"tag"`
	AskedAt    unit.Instant `json:"asked_at"`
	AnsweredAt unit.Instant `json:"answered_at,omitempty"`
	Ingredient string       `json:"ingredient" doc:"Whose lot is asked for, beside the farm."`
	Right      int          `json:"right" doc:"Of two."`
	Seconds    int          `json:"seconds,omitempty" doc:"The person took."`
	Micros     int64        `json:"records_took_us"`
	By         string       `json:"by"`
	Farm       string       `json:"farm,omitempty" doc:"Shown once it is answered."`
	Lots       []string     `json:"lots,omitempty"`
}

type drillOutput struct{ Body DrillOut }

type drillsOutput struct {
	Body struct {
		Drills []DrillOut `json:"drills"`
	}
}

type drillAnswerInput struct {
	ID   int64 `path:"id"`
	Body struct {
		Farm string `json:"farm" maxLength:"100"`
		Lot  string `json:"lot" maxLength:"100"`
	}
}

// GrindSourceOut is one material put in.
type GrindSourceOut struct {
	Material      string   `json:"material,omitempty" maxLength:"60"`
	Establishment string   `json:"establishment,omitempty" maxLength:"40"`
	Lot           string   `json:"lot,omitempty" maxLength:"60"`
	MadeOn        unit.Day `json:"made_on,omitempty" doc:"Production date; of own trim the kill day."`
	Animal        string   `json:"animal,omitempty" maxLength:"40" doc:"Own trim: the animal's tag; number, lot and day are filled in."`
}

// GrindEntryOut is a line of the grinding log.
type GrindEntryOut struct {
	ID        int64            `json:"id"`
	At        unit.Instant     `json:"at"`
	Cleaned   bool             `json:"cleaned"`
	Product   string           `json:"product,omitempty"`
	Weight    unit.Weight      `json:"weight,omitempty"`
	Sources   []GrindSourceOut `json:"sources"`
	Note      string           `json:"note,omitempty"`
	Corrects  int64            `json:"corrects,omitempty"`
	Corrected int64            `json:"corrected_by,omitempty"`
	By        string           `json:"by"`
}

// GrindLotOut is ground meat that is traced together.
type GrindLotOut struct {
	At      unit.Instant `json:"at"`
	Product string       `json:"product"`
	Sources []string     `json:"sources"`
	Carried []string     `json:"carried_over"`
	Cleaned unit.Instant `json:"cleaned_before,omitempty"`
	Next    unit.Instant `json:"cleaned_after,omitempty"`
	Keep    unit.Day     `json:"keep_to"`
}

type grindLogInput struct {
	From string `query:"from" maxLength:"10" doc:"A day; none: a year back."`
	To   string `query:"to" maxLength:"10" doc:"A day; none: today."`
}

type grindLogOutput struct {
	Body struct {
		Entries []GrindEntryOut `json:"entries"`
		Lots    []GrindLotOut   `json:"lots"`
	}
}

type grindInput struct {
	Body struct {
		At       unit.Instant     `json:"at,omitempty" doc:"None: now."`
		Cleaned  bool             `json:"cleaned,omitempty" doc:"The grinder was cleaned and sanitized; then there are no sources."`
		Product  string           `json:"product,omitempty" maxLength:"60"`
		Weight   unit.Weight      `json:"weight,omitempty"`
		Note     string           `json:"note,omitempty" maxLength:"400"`
		Corrects int64            `json:"corrects,omitempty" doc:"An earlier entry this one stands for; both stay."`
		Sources  []GrindSourceOut `json:"sources,omitempty" maxItems:"20"`
	}
}

type grindIDOutput struct {
	Body struct {
		ID int64 `json:"id"`
	}
}

// LotOut is an ingredient lot or a roll of bags.
type LotOut struct {
	ID         int64    `json:"id"`
	Ingredient string   `json:"ingredient"`
	Code       string   `json:"code"`
	Supplier   string   `json:"supplier,omitempty"`
	OpenedOn   unit.Day `json:"opened_on,omitempty"`
	UsedUpOn   unit.Day `json:"used_up_on,omitempty"`
	Jars       []string `json:"jars"`
	Keep       unit.Day `json:"keep_to"`
}

type lotsOutput struct {
	Body struct {
		Lots []LotOut `json:"lots"`
	}
}

type lotIDInput struct {
	ID int64 `path:"id"`
}

// KeptOut is a record and the last day it is to be kept.
type KeptOut struct {
	What string   `json:"what" enum:"delivery,cure,grinding,lot"`
	Name string   `json:"name"`
	Keep unit.Day `json:"keep_to"`
}

type keptOutput struct {
	Body struct {
		Records []KeptOut `json:"records"`
	}
}

func (a *Server) recordOperations() {
	staff := []shop.Role{shop.Staff}
	operation(a, http.MethodGet, "/days/{day}", "day-folder", "Everything written down on one date", staff,
		func(ctx context.Context, _ shop.Actor, in *folderInput) (*folderOutput, error) {
			d, err := unit.ParseDay(in.Day)
			if err != nil {
				return nil, shop.Bad("day", "%s", err)
			}
			f, err := a.Store.DayFolder(ctx, d)
			if err != nil {
				return nil, err
			}
			return &folderOutput{folderOut(f)}, nil
		})
	operation(a, http.MethodGet, "/drills", "list-drills", "Tracing drills, the newest first", staff,
		func(ctx context.Context, _ shop.Actor, _ *struct{}) (*drillsOutput, error) {
			all, err := a.Store.Drills(ctx)
			if err != nil {
				return nil, err
			}
			out := &drillsOutput{}
			out.Body.Drills = []DrillOut{}
			for _, v := range all {
				out.Body.Drills = append(out.Body.Drills, drillOut(v))
			}
			return out, nil
		})
	operation(a, http.MethodPost, "/drills", "begin-drill", "Pick any sealed slab and ask for its farm and one of its lots", staff,
		func(ctx context.Context, by shop.Actor, _ *struct{}) (*drillOutput, error) {
			id, err := a.Store.BeginDrill(ctx, by, func(n int) int { return int(uint64(a.Store.Config.Rand()) % uint64(n)) })
			if err != nil {
				return nil, err
			}
			return a.drill(ctx, id)
		})
	operation(a, http.MethodPost, "/drills/{id}", "answer-drill", "Answer a drill; an answer counts once", staff,
		func(ctx context.Context, by shop.Actor, in *drillAnswerInput) (*drillOutput, error) {
			if err := a.Store.AnswerDrill(ctx, by, in.ID, in.Body.Farm, in.Body.Lot); err != nil {
				return nil, err
			}
			return a.drill(ctx, in.ID)
		})
	operation(a, http.MethodGet, "/grinds", "grind-log", "The grinding log, entry by entry and by lot", staff,
		func(ctx context.Context, _ shop.Actor, in *grindLogInput) (*grindLogOutput, error) {
			to := a.Store.Today()
			from := to - 366
			var w shop.Wrong
			for _, x := range []struct {
				name, text string
				day        *unit.Day
			}{{"from", in.From, &from}, {"to", in.To, &to}} {
				if x.text != "" {
					d, err := unit.ParseDay(x.text)
					w.AddErr(x.name, err)
					*x.day = d
				}
			}
			if err := w.Err(); err != nil {
				return nil, err
			}
			log, err := a.Store.GrindLog(ctx, from, to)
			if err != nil {
				return nil, err
			}
			out := &grindLogOutput{}
			out.Body.Entries, out.Body.Lots = grindEntriesOut(log.Entries), []GrindLotOut{}
			for _, l := range log.Lots {
				out.Body.Lots = append(out.Body.Lots, GrindLotOut{l.From, l.Product, some(l.GrindLot.Sources), some(l.Carried), l.Cleaned, l.Next, l.Keep})
			}
			return out, nil
		})
	operation(a, http.MethodPost, "/grinds", "add-grind", "Write an entry into the grinding log; meat without a source is refused", staff,
		func(ctx context.Context, by shop.Actor, in *grindInput) (*grindIDOutput, error) {
			b := in.Body
			n := store.NewGrind{At: b.At, Cleaned: b.Cleaned, Product: b.Product, Weight: b.Weight, Note: b.Note, Corrects: shop.GrindID(b.Corrects)}
			for _, s := range b.Sources {
				n.Sources = append(n.Sources, store.GrindFrom(s))
			}
			id, err := a.Store.AddGrind(ctx, by, n)
			if err != nil {
				return nil, err
			}
			out := &grindIDOutput{}
			out.Body.ID = int64(id)
			return out, nil
		})
	operation(a, http.MethodGet, "/lots", "list-lots", "Ingredient lots and rolls of bags, those in use first", staff,
		func(ctx context.Context, _ shop.Actor, _ *struct{}) (*lotsOutput, error) {
			lots, err := a.Store.Lots(ctx)
			if err != nil {
				return nil, err
			}
			out := &lotsOutput{}
			out.Body.Lots = []LotOut{}
			for _, l := range lots {
				out.Body.Lots = append(out.Body.Lots, LotOut{int64(l.ID), l.Ingredient, l.Code, l.Supplier, l.OpenedOn, l.UsedUpOn, some(l.Jars), l.Keep})
			}
			return out, nil
		})
	operation(a, http.MethodPost, "/lots/{id}/used-up", "use-up-lot", "Note that a lot is used up", staff,
		func(ctx context.Context, by shop.Actor, in *lotIDInput) (*struct{}, error) {
			return nil, a.Store.UseUpLot(ctx, by, shop.LotID(in.ID))
		})
	operation(a, http.MethodGet, "/records", "kept-records", "What is kept, each with the last day it has to be", staff,
		func(ctx context.Context, _ shop.Actor, _ *struct{}) (*keptOutput, error) {
			k, err := a.Store.Records(ctx)
			if err != nil {
				return nil, err
			}
			out := &keptOutput{}
			out.Body.Records = []KeptOut{}
			add := func(what, name string, keep unit.Day) {
				out.Body.Records = append(out.Body.Records, KeptOut{what, name, keep})
			}
			for _, d := range k.Deliveries {
				add("delivery", d.Lot, d.Keep)
			}
			for _, c := range k.Cures {
				add("cure", c.Class, c.Keep)
			}
			for _, g := range k.Grinds {
				add("grinding", g.From.Show(a.Store.Loc), g.Keep)
			}
			for _, l := range k.Lots {
				add("lot", l.Ingredient+" "+l.Code, l.Keep)
			}
			return out, nil
		})
}

func (a *Server) drill(ctx context.Context, id int64) (*drillOutput, error) {
	v, err := a.Store.Drill(ctx, id)
	if err != nil {
		return nil, err
	}
	return &drillOutput{drillOut(*v)}, nil
}

func drillOut(v store.DrillView) DrillOut {
	o := DrillOut{ID: v.ID, Tag: v.Tag, AskedAt: v.AskedAt, AnsweredAt: v.AnsweredAt, Ingredient: v.Ingredient, Right: v.Right, Seconds: int(v.Took.Seconds()), Micros: v.FoundMicros, By: v.Actor}
	if v.Answered() {
		o.Farm, o.Lots = v.Farm, some(v.Lots)
	}
	return o
}

func grindEntriesOut(entries []store.GrindEntry) []GrindEntryOut {
	out := []GrindEntryOut{}
	for _, e := range entries {
		x := GrindEntryOut{ID: int64(e.ID), At: e.At, Cleaned: e.Cleaned, Product: e.Product, Weight: e.Weight, Sources: []GrindSourceOut{}, Note: e.Note, Corrects: int64(e.Corrects), Corrected: int64(e.Corrected), By: e.Actor}
		for _, s := range e.Sources {
			x.Sources = append(x.Sources, GrindSourceOut{s.Material, s.Establishment, s.Lot, s.MadeOn, s.Animal})
		}
		out = append(out, x)
	}
	return out
}

func folderOut(f *store.DayFolder) FolderOut {
	o := FolderOut{Day: f.Day, Keep: f.Keep, Meat: []FolderMeat{}, Scales: []FolderScale{}, Weighed: []FolderWeighed{}, Rooms: []FolderRoom{}, Holds: []FolderHold{},
		Refused: folderSteps(f.Refused), Smoked: folderSteps(f.Smoked), Packed: folderSteps(f.Packed), Added: folderSteps(f.Added), Grinds: grindEntriesOut(f.Ground.Entries), Signed: []FolderSigned{}}
	for _, m := range f.Meat {
		o.Meat = append(o.Meat, FolderMeat{m.Lot, m.Farm, m.Plant, m.Legend, m.ReceivedBy, some(m.Pieces)})
	}
	for _, c := range f.Scales {
		o.Scales = append(o.Scales, FolderScale{c.Name, c.At, c.Shown, c.Passed, c.Actor})
	}
	for _, w := range f.WeighOut {
		o.Weighed = append(o.Weighed, FolderWeighed{w.Tag, w.At, w.Green, w.Wanted, w.Cure, w.Off(), w.PPM, w.Limits(), w.Passed, w.Reason, w.Actor})
	}
	for _, l := range f.Rooms {
		r := FolderRoom{Room: l.Room.Code, Readings: []ReadingIn{}, Gaps: []FolderGap{}}
		for _, x := range l.Readings {
			r.Readings = append(r.Readings, ReadingIn{x.At, x.Temp})
		}
		for _, g := range l.Gaps {
			x := FolderGap{From: g.From, To: g.To, Said: []string{}}
			for _, n := range g.Said {
				x.Said = append(x.Said, n.Text+" ("+n.Actor+")")
			}
			r.Gaps = append(r.Gaps, x)
		}
		o.Rooms = append(o.Rooms, r)
	}
	for _, h := range f.Holds {
		x := FolderHold{Room: h.Room, Reason: h.Reason, OpenedAt: h.OpenedAt, OpenedBy: h.OpenedBy, Tags: some(h.Tags), Decided: []FolderDecision{}}
		for _, d := range h.Decided {
			x.Decided = append(x.Decided, FolderDecision{d.At, d.Actor, d.What, d.Detail})
		}
		o.Holds = append(o.Holds, x)
	}
	for _, p := range f.Signed {
		o.Signed = append(o.Signed, FolderSigned{p.Name, some(p.What)})
	}
	return o
}

func folderSteps(steps []store.DayStep) []FolderStep {
	out := []FolderStep{}
	for _, s := range steps {
		out = append(out, FolderStep{s.Tag, s.From, s.To, s.DoneAt, s.ReceivedAt, s.Actor, s.Reading, s.Reason})
	}
	return out
}
