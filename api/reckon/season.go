package reckon

import (
	"time"

	"flitchbook/planner/season"
	"flitchbook/planner/unit"
)

var seasonKind = define("season", "kill days and order-bys, ready-about dates, rack and hooks, and whether one more class fits",
	seasonExample, runSeason)

type closedIn struct {
	Day unit.Day `json:"day"`
	Why string   `json:"why,omitempty"`
}

type closureIn struct {
	From    unit.Day `json:"from"`
	To      unit.Day `json:"to"`
	Species []string `json:"species,omitempty" maxItems:"20" doc:"all when not given"`
	Why     string   `json:"why,omitempty"`
}

type takenIn struct {
	Day     unit.Day `json:"day"`
	Species string   `json:"species"`
	Animals int      `json:"animals" minimum:"0" maximum:"1000"`
}

type callIn struct {
	Code string   `json:"code"`
	Use  string   `json:"use" doc:"a name in rules.uses"`
	Day  unit.Day `json:"day"`
}

type groupIn struct {
	Animals int      `json:"animals" minimum:"0" maximum:"1000"`
	Classes []callIn `json:"classes" minItems:"1" maxItems:"50"`
}

type sittingIn struct {
	Code      string   `json:"code" minLength:"1"`
	Day       unit.Day `json:"day"`
	Seats     int      `json:"seats" minimum:"0" maximum:"500"`
	Sold      int      `json:"sold,omitempty" minimum:"0" maximum:"500"`
	Second    int      `json:"second,omitempty" minimum:"0" maximum:"500"`
	Demo      int      `json:"demo,omitempty" minimum:"0" maximum:"500"`
	Allergen  int      `json:"allergen,omitempty" minimum:"0" maximum:"500" doc:"slabs known to need the bottom row"`
	ColdHours float64  `json:"cold_hours,omitempty" minimum:"0" maximum:"2000" doc:"hours its room was too cold since sealing"`
	Plain     bool     `json:"no_slabs,omitempty" doc:"its seats have no slab: a clinic, a dinner"`
	Watching  int      `json:"watching,omitempty" minimum:"0" maximum:"500" doc:"watching seats sold"`
	From      int      `json:"from_minute,omitempty" minimum:"0" maximum:"1440" doc:"minutes of the day it begins"`
	To        int      `json:"to_minute,omitempty" minimum:"0" maximum:"2880" doc:"and ends"`
	Use       string   `json:"use,omitempty" doc:"a name in rules.uses, to look for a kill"`
	Animals   int      `json:"animals,omitempty" minimum:"0" maximum:"1000"`
	Fed       bool     `json:"fed,omitempty" doc:"its kill is planned or its meat ordered"`
}

func (s sittingIn) sitting() season.Sitting {
	return season.Sitting{Code: s.Code, Day: s.Day, Seats: s.Seats, Sold: s.Sold, Second: s.Second, Demo: s.Demo, Allergen: s.Allergen,
		Cold: time.Duration(s.ColdHours * float64(time.Hour)), Plain: s.Plain, Watching: s.Watching, From: s.From, To: s.To,
		Use: s.Use, Animals: s.Animals, Fed: s.Fed}
}

type seasonIn struct {
	Today       unit.Day    `json:"today"`
	Rules       *rulesIn    `json:"rules,omitempty" doc:"the demo shop's when not given"`
	Closed      []closedIn  `json:"closed,omitempty" maxItems:"400" doc:"days the shop is closed altogether"`
	Closures    []closureIn `json:"closures,omitempty" maxItems:"100" doc:"spans in which the plant does not kill, both days included"`
	Taken       []takenIn   `json:"taken,omitempty" maxItems:"500" doc:"slots other orders hold"`
	Orders      []groupIn   `json:"orders,omitempty" maxItems:"60"`
	Sittings    []sittingIn `json:"sittings,omitempty" maxItems:"200" doc:"bacon classes"`
	Publish     *sittingIn  `json:"publish,omitempty" doc:"a class to be added: does it fit?"`
	ReadyBefore unit.Day    `json:"ready_before,omitempty" doc:"name the last sitting whose bacon is ready before this day"`
}

type candidateOut struct {
	Kill    unit.Day `json:"kill"`
	Hang    int      `json:"hang"`
	Deliver unit.Day `json:"deliver,omitempty"`
	OrderBy unit.Day `json:"order_by"`
	Fits    bool     `json:"fits"`
	Reasons []string `json:"reasons,omitempty"`
}

func candidateFrom(c season.Candidate) candidateOut {
	return candidateOut{c.Kill, c.Hang, c.Deliver, c.OrderBy, c.Fits, c.Reasons}
}

type orderOut struct {
	Classes  []string       `json:"classes"`
	Animals  int            `json:"animals"`
	Chosen   *candidateOut  `json:"chosen"`
	Why      string         `json:"why,omitempty"`
	Advice   string         `json:"advice,omitempty"`
	LookedAt []candidateOut `json:"looked_at"`
}

type skipOut struct {
	Unbag unit.Day `json:"unbag"`
	Why   string   `json:"why"`
}

type chainOut struct {
	Code     string    `json:"code"`
	Seal     unit.Day  `json:"seal"`
	Earliest unit.Day  `json:"earliest,omitempty"`
	Unbag    unit.Day  `json:"unbag,omitempty"`
	Smoke    unit.Day  `json:"smoke,omitempty"`
	Ready    unit.Day  `json:"ready_about,omitempty"`
	Latest   unit.Day  `json:"latest_unbag,omitempty"`
	Skipped  []skipOut `json:"skipped,omitempty"`
	Problem  string    `json:"problem,omitempty"`
}

type rackOut struct {
	Day  unit.Day `json:"day"`
	Full int      `json:"full"`
	Sold int      `json:"sold"`
}

type breakOut struct {
	Day  unit.Day `json:"day"`
	What string   `json:"what"`
	Have int      `json:"have"`
	Cap  int      `json:"cap"`
	Text string   `json:"text"`
}

func breakFrom(b season.Break) breakOut { return breakOut{b.Day, b.What, b.Have, b.Cap, b.Text} }

type placelessOut struct {
	Code  string `json:"code"`
	Seats int    `json:"seats"`
}

type publishOut struct {
	OK        bool      `json:"ok"`
	First     *breakOut `json:"first_break,omitempty"`
	MostSeats int       `json:"most_seats"`
	Later     unit.Day  `json:"later_day,omitempty"`
	Text      string    `json:"text"`
	Notes     []string  `json:"notes,omitempty" doc:"what it strains without being refused"`
}

type loadOut struct {
	Smoke  unit.Day `json:"smoke"`
	Own    int      `json:"own_hooks"`
	Hooks  int      `json:"hooks" doc:"for classes"`
	Used   int      `json:"used"`
	Bottom int      `json:"bottom_row_used"`
}

type seasonOut struct {
	Orders      []orderOut     `json:"orders"`
	Chains      []chainOut     `json:"chains"`
	Rack        []rackOut      `json:"rack"`  // days on which a count changes
	Loads       []loadOut      `json:"loads"` // smoke days with every seat sold
	Tight       []string       `json:"tight"` // shelf and freezer with every seat sold
	BreaksFull  []breakOut     `json:"breaks_full"`
	BreaksSold  []breakOut     `json:"breaks_sold"`
	Placeless   []placelessOut `json:"seats_without_place"`
	Publish     *publishOut    `json:"publish,omitempty"`
	ReadyBefore *chainOut      `json:"ready_before,omitempty"`
}

func seasonExample() seasonIn {
	d := func(m time.Month, day int) unit.Day { return unit.DayOf(2026, m, day) }
	rules := rulesFrom(season.DefaultRules())
	return seasonIn{
		Today: d(10, 5), Rules: &rules,
		Closed:   []closedIn{{d(11, 26), "holiday"}, {d(11, 27), "holiday"}},
		Closures: []closureIn{{d(11, 16), d(11, 29), []string{"pig", "beef"}, "deer season"}},
		Orders: []groupIn{
			{4, []callIn{{"B6", "bacon", d(11, 14)}, {"B7", "bacon", d(11, 14)}}},
			{2, []callIn{{"D6", "pig clinic", d(11, 18)}, {"B8", "bacon", d(11, 21)}}},
		},
		Sittings: []sittingIn{
			{Code: "B6", Day: d(11, 14), Seats: 10, Sold: 4, Demo: 1}, {Code: "B7", Day: d(11, 14), Seats: 10, Sold: 5, Demo: 1},
			{Code: "B8", Day: d(11, 21), Seats: 10, Demo: 1},
		},
		Publish:     &sittingIn{Code: "B9", Day: d(11, 21), Seats: 10, Demo: 1, Use: "bacon", Animals: 2},
		ReadyBefore: d(12, 4),
	}
}

func runSeason(in seasonIn) (seasonOut, error) {
	r := season.DefaultRules()
	if in.Rules != nil {
		r = in.Rules.rules()
	}
	closed, plant, sittings, groups, err := in.read(r)
	if err != nil {
		return seasonOut{}, err
	}

	out := seasonOut{Orders: []orderOut{}, Chains: []chainOut{}, Rack: []rackOut{}, Loads: []loadOut{}, Tight: []string{}, BreaksFull: []breakOut{}, BreaksSold: []breakOut{}, Placeless: []placelessOut{}}
	choices, err := r.Assign(groups, in.Today, plant, closed)
	if err != nil {
		return seasonOut{}, err
	}
	for _, c := range choices {
		o := orderOut{Animals: c.Group.Animals, Why: c.Why, Advice: c.Advice, LookedAt: []candidateOut{}}
		for _, call := range c.Group.Calls {
			o.Classes = append(o.Classes, call.Code)
		}
		if c.OK() {
			k := candidateFrom(c.Chosen)
			o.Chosen = &k
		}
		for _, k := range c.All {
			o.LookedAt = append(o.LookedAt, candidateFrom(k))
		}
		out.Orders = append(out.Orders, o)
	}
	var seals []unit.Day
	for _, s := range sittings {
		out.Chains = append(out.Chains, chainFrom(r, s, closed))
		seals = append(seals, s.Day)
	}
	if c, ok := r.LastBefore(seals, in.ReadyBefore, closed); ok && in.ReadyBefore != 0 {
		for i, s := range sittings {
			if s.Day == c.Seal {
				out.ReadyBefore = &out.Chains[i]
				break
			}
		}
	}
	full, sold := r.Rack(sittings, season.Sitting.Full, closed), r.Rack(sittings, season.Sitting.Now, closed)
	for i, f := range full {
		row := rackOut{f.Day, f.Used, sold[i].Used}
		if n := len(out.Rack); n == 0 || out.Rack[n-1].Full != row.Full || out.Rack[n-1].Sold != row.Sold {
			out.Rack = append(out.Rack, row)
		}
	}
	for _, l := range r.Loads(sittings, season.Sitting.Full, closed) {
		out.Loads = append(out.Loads, loadOut{l.Smoke, l.Own, l.Hooks, l.Used, l.Bottom})
	}
	for _, b := range r.Tight(sittings, season.Sitting.Full, closed) {
		out.Tight = append(out.Tight, b.Text)
	}
	for _, b := range r.Breaks(sittings, season.Sitting.Full, closed) {
		out.BreaksFull = append(out.BreaksFull, breakFrom(b))
	}
	for _, b := range r.Breaks(sittings, season.Sitting.Now, closed) {
		out.BreaksSold = append(out.BreaksSold, breakFrom(b))
	}
	for _, p := range r.Placeless(sittings, closed) {
		out.Placeless = append(out.Placeless, placelessOut{p.Code, p.Seats})
	}
	if in.Publish != nil {
		diary, add := season.Diary{Open: sittings, Closed: closed, Plant: plant, Today: in.Today}, in.Publish.sitting()
		v := r.Judge(diary, add)
		if err := v.Check(r, diary, add); err != nil {
			return seasonOut{}, err
		}
		out.Publish = &publishOut{OK: v.OK, MostSeats: v.MostSeats, Later: v.Later, Text: v.Text}
		if !v.OK {
			b := breakFrom(v.First)
			out.Publish.First = &b
		}
		for _, n := range v.Notes {
			out.Publish.Notes = append(out.Publish.Notes, n.Text)
		}
	}
	return out, nil
}

// read turns the document into planner values and lists what the schema cannot see.
func (in seasonIn) read(r season.Rules) (season.Closed, season.Plant, []season.Sitting, []season.Group, error) {
	var f unit.Faults
	near := func(field string, d unit.Day) {
		if d == 0 || d < in.Today-3*366 || d > in.Today+3*366 {
			f.Add(field, "the day must lie within three years of today")
		}
	}
	if in.Today == 0 {
		f.Add("today", "the season needs today's date")
	}
	f.Under("rules", r.Check())
	closed := season.Closed{}
	for _, c := range in.Closed {
		closed[c.Day] = c.Why
	}
	var plant season.Plant
	for i, c := range in.Closures {
		if c.To < c.From {
			f.Add(at("closures", i)+".to", "the closure ends before it begins")
		}
		plant.Closures = append(plant.Closures, season.Closure{From: c.From, To: c.To, Species: c.Species, Why: c.Why})
	}
	for _, t := range in.Taken {
		plant.Taken = append(plant.Taken, season.Taken{Day: t.Day, Species: t.Species, Animals: t.Animals})
	}
	var sittings []season.Sitting
	for i, s := range in.Sittings {
		near(at("sittings", i)+".day", s.Day)
		if s.Sold > s.Seats {
			f.Add(at("sittings", i)+".sold", "more seats are sold than the class has")
		}
		sittings = append(sittings, s.sitting())
	}
	if in.Publish != nil {
		near("publish.day", in.Publish.Day)
	}
	var groups []season.Group
	for i, g := range in.Orders {
		group := season.Group{Animals: g.Animals}
		for j, c := range g.Classes {
			near(at("orders", i)+"."+at("classes", j)+".day", c.Day)
			group.Calls = append(group.Calls, season.Call{Code: c.Code, Use: c.Use, Day: c.Day})
		}
		f.Under(at("orders", i), r.CheckGroup(group))
		groups = append(groups, group)
	}
	return closed, plant, sittings, groups, f.Err()
}

func chainFrom(r season.Rules, s season.Sitting, closed season.Closed) chainOut {
	c, err := r.ReadyAbout(s.Day, s.Cold, closed)
	if err != nil {
		return chainOut{Code: s.Code, Seal: s.Day, Problem: err.Error()}
	}
	out := chainOut{Code: s.Code, Seal: c.Seal, Earliest: c.Earliest, Unbag: c.Unbag, Smoke: c.Smoke, Ready: c.Pack, Latest: c.Latest}
	for _, k := range c.Skipped {
		out.Skipped = append(out.Skipped, skipOut{k.Unbag, k.Why})
	}
	return out
}
