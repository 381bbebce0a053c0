package api

import (
	"context"
	"fmt"
	"net/http"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/heat"
	"flitchbook/planner/smoke"
	"flitchbook/planner/unit"
)

type aheadOutput struct {
	Body struct {
		House     LoadScore      `json:"house_rule"`
		Plan      LoadScore      `json:"plan"`
		LateBound int            `json:"late_bound" doc:"No plan is late by fewer days."`
		Bound     int            `json:"load_bound" doc:"No plan with so few late days has fewer loads."`
		Status    smoke.Status   `json:"status,omitempty" doc:"proven, or limit when the search was cut short."`
		NoPlan    string         `json:"no_plan,omitempty" doc:"Why there is no plan that keeps every latest day."`
		Days      []LoadDayAhead `json:"days"`
		Moves     []LoadMove     `json:"moves" doc:"Parties that the plan hangs on another day than the house rule."`
		Held      []string       `json:"on_hold" doc:"In neither plan."`
		Left      []string       `json:"left" doc:"Tags that find no hook by the house rule."`
		Notes     []string       `json:"notes"`
		Unsealed  int            `json:"not_sealed_yet" doc:"Slabs among them that seats sold in classes to come will make."`
		Classes   []string       `json:"classes_to_come"`
	}
}

// LoadScore is how plans are compared: late days first, then loads.
type LoadScore struct {
	LateDays int `json:"late_days" doc:"Over slabs, days after the promise."`
	Loads    int `json:"loads"`
}

// LoadDayAhead is one smoke day by both ways.
type LoadDayAhead struct {
	Day       unit.Day `json:"day"`
	Hooks     int      `json:"hooks" doc:"For class slabs."`
	Own       int      `json:"house_hooks"`
	BottomRow int      `json:"bottom_row"`
	House     LoadSet  `json:"house_rule"`
	Plan      LoadSet  `json:"plan"`
	Saved     string   `json:"saved,omitempty" doc:"How the day's load was chosen, if it is planned."`
}

// LoadSet is what hangs in one load.
type LoadSet struct {
	Tags   []string `json:"tags"`
	Bottom int      `json:"bottom" doc:"Of them, in the bottom row."`
}

// LoadMove is a party with its smoke day either way.
type LoadMove struct {
	Booking   string   `json:"booking,omitempty"`
	Tags      []string `json:"tags"`
	Promise   unit.Day `json:"promised,omitempty"`
	House     unit.Day `json:"house_rule,omitempty"`
	Plan      unit.Day `json:"plan,omitempty"`
	HouseLate int      `json:"house_late"`
	PlanLate  int      `json:"plan_late"`
}

type takeInput struct {
	Day  string `path:"day" example:"2026-11-06"`
	Body struct {
		Reason string `json:"reason" maxLength:"400" doc:"Stands in the record."`
	}
}

// LogEntryIn is a line of a load's log.
type LogEntryIn struct {
	At    unit.Instant `json:"at" example:"2026-11-06T14:15:00Z"`
	House *unit.Temp   `json:"house,omitempty" doc:"Air of the smokehouse, or of the chiller." example:"150 F"`
	Core  *unit.Temp   `json:"core,omitempty" doc:"Of the slab; in the chill the warmest point." example:"112 F"`
	Tag   string       `json:"tag,omitempty" maxLength:"20" doc:"Whose probe."`
}

type logInput struct {
	Day  string `path:"day" example:"2026-11-06"`
	Body struct {
		Phase string       `json:"phase" enum:"smoke,chill"`
		Lines []LogEntryIn `json:"lines,omitempty" maxItems:"1000"`
		CSV   string       `json:"csv,omitempty" maxLength:"100000" doc:"Instead of lines: time, house, core, tag in each line, on the shop's clocks, °F without a unit." example:"16:30,,94"`
	}
}

type correctInput struct {
	Day  string      `path:"day" example:"2026-11-06"`
	Line shop.LineID `path:"line"`
	Body struct {
		At     unit.Instant `json:"at,omitempty" doc:"None: as it was."`
		House  *unit.Temp   `json:"house,omitempty"`
		Core   *unit.Temp   `json:"core,omitempty" doc:"Neither temperature: the line is only struck out."`
		Tag    string       `json:"tag,omitempty" maxLength:"20"`
		Reason string       `json:"reason" maxLength:"400"`
	}
}

type woodInput struct {
	Day  string `path:"day" example:"2026-11-06"`
	Body struct {
		Wood string `json:"wood" maxLength:"80"`
	}
}

type pairInput struct {
	Tag  string `path:"tag" maxLength:"20" example:"B3-04"`
	Body struct {
		Hook string `json:"hook" maxLength:"20" doc:"As scanned off the steel."`
	}
}

type closeInput struct {
	Body struct {
		Day    unit.Day `json:"day"`
		Reason string   `json:"reason" maxLength:"200"`
	}
}

type closeOutput struct {
	Body struct {
		Dropped []unit.Day `json:"loads_dropped"`
	}
}

type logOutput struct {
	Body struct {
		Day    unit.Day     `json:"day"`
		Wood   string       `json:"wood,omitempty"`
		Lines  []LogEntry   `json:"lines"`
		Probes []ProbeOut   `json:"probes" doc:"For information only."`
		Chill  ChillVerdict `json:"chill"`
		Status string       `json:"status" doc:"Whatever the log says."`
	}
}

// LogEntry is a line as it stands.
type LogEntry struct {
	ID       shop.LineID  `json:"id"`
	Phase    string       `json:"phase"`
	At       unit.Instant `json:"at"`
	House    *unit.Temp   `json:"house,omitempty"`
	Core     *unit.Temp   `json:"core,omitempty"`
	Tag      string       `json:"tag,omitempty"`
	By       string       `json:"by"`
	Received unit.Instant `json:"received_at"`
	Struck   bool         `json:"struck,omitempty"`
	Corrects shop.LineID  `json:"corrects,omitempty"`
	Reason   string       `json:"reason,omitempty"`
}

// ProbeOut is what a probe's log amounts to.
type ProbeOut struct {
	Tag   string   `json:"tag,omitempty"`
	F150  string   `json:"minutes_at_150_f"`
	Logs  string   `json:"logs"`
	Met   bool     `json:"reaches_6.5_logs"`
	Notes []string `json:"notes"`
}

// ChillVerdict is the verdict on a load's cooling.
type ChillVerdict struct {
	Rule     string       `json:"rule"`
	Source   string       `json:"source,omitempty"`
	Outcome  heat.Outcome `json:"outcome"`
	Why      string       `json:"why"`
	PPM      string       `json:"least_ppm,omitempty"`
	Brine    string       `json:"least_brine_percent,omitempty" doc:"Reckoned from what was weighed out."`
	MayPack  bool         `json:"may_pack"`
	Answered string       `json:"answered_by,omitempty"`
	Reason   string       `json:"answer,omitempty"`
}

func dayOf(s string) (unit.Day, error) {
	d, err := unit.ParseDay(s)
	if err != nil {
		return 0, shop.Bad("day", "%s", err)
	}
	return d, nil
}

// smokeOperations are the loads ahead and what is written down of a load.
func (a *Server) smokeOperations() {
	staff, owner := []shop.Role{shop.Staff}, []shop.Role{shop.Owner}
	operation(a, http.MethodGet, "/loads", "loads-ahead", "All loads ahead: the house rule's beside a plan over all of them", staff,
		func(ctx context.Context, _ shop.Actor, _ *struct{}) (*aheadOutput, error) {
			o, err := a.Store.SmokeOutlook(ctx)
			if err != nil {
				return nil, err
			}
			return aheadOut(o), nil
		})
	operation(a, http.MethodPost, "/loads/{day}/plan", "take-plan", "Make the plan's load the day's load, in place of the house rule's", owner,
		func(ctx context.Context, by shop.Actor, in *takeInput) (*loadOutput, error) {
			d, err := dayOf(in.Day)
			if err != nil {
				return nil, err
			}
			if _, err := a.Store.TakePlan(ctx, by, d, in.Body.Reason); err != nil {
				return nil, err
			}
			return a.load(ctx, in.Day)
		})
	operation(a, http.MethodGet, "/loads/{day}/log", "load-log", "What is written down of a load, and what it amounts to", staff,
		func(ctx context.Context, _ shop.Actor, in *loadInput) (*logOutput, error) {
			return a.loadLog(ctx, in.Day)
		})
	operation(a, http.MethodPost, "/loads/{day}/log", "add-load-lines", "Write lines into a load's log, all or none; sending them again changes nothing", staff, a.addLines)
	operation(a, http.MethodPost, "/loads/{day}/log/{line}", "correct-load-line", "Strike a line out and put another in its place", staff,
		func(ctx context.Context, by shop.Actor, in *correctInput) (*logOutput, error) {
			d, err := dayOf(in.Day)
			if err != nil {
				return nil, err
			}
			b := in.Body
			if err := a.Store.CorrectLine(ctx, by, d, in.Line, store.LineIn{At: b.At, House: b.House, Core: b.Core, Tag: b.Tag}, b.Reason); err != nil {
				return nil, err
			}
			return a.loadLog(ctx, in.Day)
		})
	operation(a, http.MethodPut, "/loads/{day}/wood", "load-wood", "Note what a load is smoked over", staff,
		func(ctx context.Context, by shop.Actor, in *woodInput) (*struct{}, error) {
			d, err := dayOf(in.Day)
			if err != nil {
				return nil, err
			}
			return nil, a.Store.SetWood(ctx, by, d, in.Body.Wood)
		})
	operation(a, http.MethodPost, "/loads/{day}/answer", "answer-chill", "Answer by name for a load whose chill did not pass, so that it may be packed", staff,
		func(ctx context.Context, by shop.Actor, in *takeInput) (*logOutput, error) {
			d, err := dayOf(in.Day)
			if err != nil {
				return nil, err
			}
			if err := a.Store.AnswerChill(ctx, by, d, in.Body.Reason); err != nil {
				return nil, err
			}
			return a.loadLog(ctx, in.Day)
		})
	operation(a, http.MethodPost, "/slabs/{tag}/pairing", "check-pairing", "Look at a slab on its hook a second time", staff,
		func(ctx context.Context, by shop.Actor, in *pairInput) (*struct{}, error) {
			return nil, a.Store.CheckPairing(ctx, by, in.Tag, in.Body.Hook)
		})
	operation(a, http.MethodPost, "/closed-days", "close-day", "Close a day to come for production; planned loads over it are dropped", owner,
		func(ctx context.Context, by shop.Actor, in *closeInput) (*closeOutput, error) {
			dropped, err := a.Store.CloseForWork(ctx, by, in.Body.Day, in.Body.Reason)
			if err != nil {
				return nil, err
			}
			out := &closeOutput{}
			out.Body.Dropped = append([]unit.Day{}, dropped...)
			return out, nil
		})
}

func (a *Server) addLines(ctx context.Context, by shop.Actor, in *logInput) (*logOutput, error) {
	d, err := dayOf(in.Day)
	if err != nil {
		return nil, err
	}
	var lines []store.LineIn
	for _, l := range in.Body.Lines {
		lines = append(lines, store.LineIn{At: l.At, House: l.House, Core: l.Core, Tag: l.Tag})
	}
	if in.Body.CSV != "" {
		more, err := a.Store.ReadLines(ctx, d, in.Body.Phase, in.Body.CSV)
		if err != nil {
			return nil, err
		}
		lines = append(lines, more...)
	}
	if err := a.Store.AddLines(ctx, by, d, in.Body.Phase, lines); err != nil {
		return nil, err
	}
	return a.loadLog(ctx, in.Day)
}

func (a *Server) loadLog(ctx context.Context, day string) (*logOutput, error) {
	d, err := dayOf(day)
	if err != nil {
		return nil, err
	}
	log, err := a.Store.LoadLog(ctx, d)
	if err != nil {
		return nil, err
	}
	out := &logOutput{}
	b, c := &out.Body, log.Chill
	b.Day, b.Wood, b.Status, b.Lines, b.Probes = d, log.Wood, heat.NotReady, []LogEntry{}, []ProbeOut{}
	for _, l := range log.Lines {
		b.Lines = append(b.Lines, LogEntry{l.ID, l.Phase, l.At, l.House, l.Core, l.Tag, l.Actor, l.ReceivedAt, l.Struck, l.Corrects, l.Reason})
	}
	for _, k := range log.Probes {
		b.Probes = append(b.Probes, ProbeOut{k.Tag, fmt.Sprintf("%.4f", k.F150), fmt.Sprintf("%.3f", k.Logs), k.Met, list(k.Notes)})
	}
	b.Chill = ChillVerdict{Rule: c.Rule, Source: c.Source, Outcome: c.Outcome, Why: c.Why, MayPack: c.MayPack()}
	if c.Least != "" {
		b.Chill.PPM, b.Chill.Brine = fmt.Sprintf("%.1f", c.PPM), fmt.Sprintf("%.2f", c.Brine)
	}
	if c.Answer != nil {
		b.Chill.Answered, b.Chill.Reason = c.Answer.Actor, c.Answer.Reason
	}
	return out, nil
}

func aheadOut(o *store.SmokeOutlook) *aheadOutput {
	out := &aheadOutput{}
	b := &out.Body
	b.House, b.Plan = LoadScore(o.House), LoadScore(o.Plan)
	b.LateBound, b.Bound, b.Status, b.NoPlan = o.LateBound, o.Bound, o.Status, o.NoPlan
	b.Held, b.Left, b.Notes, b.Unsealed, b.Classes = list(o.Held), list(o.Left), list(o.Stretched), o.Unsealed, list(o.Classes)
	b.Days, b.Moves = []LoadDayAhead{}, []LoadMove{}
	for _, d := range o.Ahead {
		x := LoadDayAhead{Day: d.Day, Hooks: d.Hooks, Own: d.HouseHooks, BottomRow: d.Bottom, House: LoadSet{list(d.House), d.HouseLow}, Plan: LoadSet{list(d.Plan), d.PlanLow}}
		switch {
		case d.Saved && d.Chosen == "":
			x.Saved = "house rule"
		case d.Saved:
			x.Saved = d.Chosen
		}
		b.Days = append(b.Days, x)
	}
	for _, m := range o.Moves() {
		b.Moves = append(b.Moves, LoadMove{m.Party, list(m.Tags), m.Promise, m.House, m.Plan, m.Late(m.House), m.Late(m.Plan)})
	}
	return out
}
