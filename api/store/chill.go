package store

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"gorm.io/gorm"

	"flitchbook/api/shop"
	"flitchbook/planner/cure"
	"flitchbook/planner/heat"
	"flitchbook/planner/unit"
)

// NoChillLog is the outcome where nobody wrote one; the others are heat's.
const NoChillLog heat.Outcome = "no chill log"

// LoadLog is what was written down of a load, and what it amounts to.
type LoadLog struct {
	Day     unit.Day
	Wood    string
	Lines   []LogLine
	Probes  []ProbeKill
	Chill   Chill
	Answers []shop.LoadAnswer
}

// ProbeKill is what one probe's log in the smoke amounts to, for information only.
type ProbeKill struct {
	Tag string // "" where nobody said whose
	heat.Kill
}

// Chill is the verdict on a load's cooling by the rule of the shop's plan.
type Chill struct {
	Rule    string // id
	Source  string
	Outcome heat.Outcome
	Why     string
	Bands   []heat.Judged
	PPM     float64 // least ingoing nitrite of its slabs, as weighed out
	Brine   float64 // least salt in the water of the lean, per cent, by what was weighed out
	Least   string  // tag of the slab with the least nitrite
	Gaps    []heat.Gap
	Answer  *shop.LoadAnswer // a named person's word that covers the log as it stands
}

// MayPack says whether the load's slabs may be packed.
func (c Chill) MayPack() bool { return c.Outcome == heat.Pass || c.Answer != nil }

// logGap is how long a log of a load may be silent before it is shown as a gap.
const logGap = time.Hour

// LoadLog reads a load's log.
func (s *Store) LoadLog(ctx context.Context, day unit.Day) (*LoadLog, error) {
	db := s.read(ctx)
	l, err := take[shop.SmokeLoad](db, "A load of "+day.Show(), "day = ?", day)
	if err != nil {
		return nil, err
	}
	return s.loadLog(db, l)
}

func (s *Store) loadLog(db *gorm.DB, l *shop.SmokeLoad) (*LoadLog, error) {
	out := &LoadLog{Day: l.Day, Wood: l.Wood}
	var err error
	if out.Lines, err = readLog(db, l.ID); err != nil {
		return nil, err
	}
	if out.Answers, err = many[shop.LoadAnswer](db, "id", "load_id = ?", l.ID); err != nil {
		return nil, err
	}
	out.Probes = probeKills(out.Lines)
	out.Chill, err = s.chill(db, l, out.Lines, out.Answers)
	return out, err
}

// probeKills integrates each probe's core over the smoke. A probe with one reading says
// nothing.
func probeKills(lines []LogLine) []ProbeKill {
	var tags []string
	series := map[string][]heat.Point{}
	start := map[string]unit.Instant{}
	for _, l := range lines {
		if l.Struck || l.Core == nil || l.Phase == shop.ChillPhase {
			continue
		}
		if _, ok := series[l.Tag]; !ok {
			tags = append(tags, l.Tag)
			start[l.Tag] = l.At
		}
		p := heat.Point{After: l.At.Sub(start[l.Tag]), Temp: *l.Core}
		if ps := series[l.Tag]; len(ps) > 0 && ps[len(ps)-1].After == p.After {
			ps[len(ps)-1].Temp = min(ps[len(ps)-1].Temp, p.Temp)
			continue
		}
		series[l.Tag] = append(series[l.Tag], p)
	}
	slices.Sort(tags)
	var out []ProbeKill
	for _, tag := range tags {
		if k, err := heat.Lethality(series[tag]); err == nil {
			out = append(out, ProbeKill{tag, k})
		}
	}
	return out
}

// warmest is the cooling as the rules want it: the warmest point at each moment, from the
// cores as the slabs left the smoke.
func warmest(lines []LogLine) (points []heat.Point, gaps []heat.Gap, chilled bool, last shop.LineID) {
	var from, before unit.Instant
	for _, l := range lines {
		if l.Phase == shop.SmokePhase {
			continue
		}
		last = max(last, l.ID)
		if l.Struck || l.Core == nil {
			continue
		}
		chilled = chilled || l.Phase == shop.ChillPhase
		if from == 0 {
			from = l.At
		}
		if before != 0 && l.At.Sub(before) > logGap {
			gaps = append(gaps, heat.Gap{From: before, To: l.At})
		}
		before = l.At
		p := heat.Point{After: l.At.Sub(from), Temp: *l.Core}
		if n := len(points); n > 0 && points[n-1].After == p.After {
			points[n-1].Temp = max(points[n-1].Temp, p.Temp)
			continue
		}
		points = append(points, p)
	}
	return points, gaps, chilled, last
}

func (s *Store) chill(db *gorm.DB, l *shop.SmokeLoad, lines []LogLine, answers []shop.LoadAnswer) (Chill, error) {
	c := Chill{Rule: s.Rules.Cooling}
	points, gaps, chilled, last := warmest(lines)
	c.Gaps = gaps
	for i := range answers {
		// A word covers what it looked at, not what comes after.
		if answers[i].Upto >= last {
			c.Answer = &answers[i]
		}
	}
	least, err := s.leastCured(db, l)
	if err != nil {
		return c, err
	}
	c.PPM, c.Brine, c.Least = least.PPM, least.Brine, least.tag
	if !chilled {
		c.Outcome, c.Why = NoChillLog, "nobody wrote down how the load cooled"
		return c, nil
	}
	rules := heat.CoolingRules()
	i := slices.IndexFunc(rules, func(r heat.CoolingRule) bool { return r.ID == s.Rules.Cooling })
	if i < 0 {
		c.Outcome, c.Why = heat.Incomplete, fmt.Sprintf("the shop's rules name no cooling rule known here (%q)", s.Rules.Cooling)
		return c, nil
	}
	c.Source = rules[i].Source
	v, err := heat.Cooling(rules[i], points, least.Cured)
	if err != nil {
		return c, err
	}
	c.Outcome, c.Why, c.Bands = v.Outcome, v.Why, v.Bands
	if c.Least != "" && c.PPM < rules[i].LeastPPM {
		c.Why += " (" + c.Least + ")"
	}
	return c, nil
}

type leastCured struct {
	heat.Cured
	tag string
}

// leastCured is the least of a load's slabs in nitrite and in brine, by what was weighed
// out on their green weight: the salt and the salt in the curing salt, in lean of 72 %
// water. Rinsing takes a little and drying gives it back; only a measurement knows.
func (s *Store) leastCured(db *gorm.DB, l *shop.SmokeLoad) (leastCured, error) {
	var rows []struct {
		Tag     string
		PPM     cure.PPM
		Salt    unit.Weight
		Cure    unit.Weight
		Basis   unit.Weight
		Nitrite unit.Ratio
	}
	err := db.Raw(`SELECT slabs.tag, weigh_outs.ppm, weigh_outs.salt, weigh_outs.cure, cure_tickets.basis, coalesce(ingredient_lots.nitrite, 0) AS nitrite
		FROM load_slabs JOIN slabs ON slabs.id = load_slabs.slab_id JOIN cure_tickets ON cure_tickets.slab_id = slabs.id AND cure_tickets.superseded_at = 0
		JOIN weigh_outs ON weigh_outs.id = (SELECT max(id) FROM weigh_outs w WHERE w.ticket_id = cure_tickets.id AND w.passed = ?)
		LEFT JOIN ingredient_lots ON ingredient_lots.id = cure_tickets.cure_lot_id
		WHERE load_slabs.load_id = ? AND cure_tickets.basis > 0 ORDER BY slabs.class_id, slabs.number`, true, l.ID).Scan(&rows).Error
	var out leastCured
	for i, r := range rows {
		ppm := float64(r.PPM) / float64(cure.MgPerKg)
		salt := 100 * (float64(r.Salt) + float64(r.Cure)*(1-float64(r.Nitrite)/float64(unit.One))) / float64(r.Basis)
		brine := cure.Brine(salt, cure.LeanMoisture)
		if i == 0 || ppm < out.PPM {
			out.PPM, out.tag = ppm, r.Tag
		}
		if i == 0 || brine < out.Brine {
			out.Brine = brine
		}
	}
	return out, err
}

// AnswerChill is a named person's word, with a reason, on a load whose chill did not pass:
// its slabs may be packed after it. It covers the log as it stands; lines that come later
// ask again.
func (s *Store) AnswerChill(ctx context.Context, by shop.Actor, day unit.Day, reason string) error {
	if !by.IsStaff() || trim(by.Name) == "" {
		return shop.ErrNotAllowed
	}
	if trim(reason) == "" {
		var w shop.Wrong
		w.Add("reason", "Say in words why these slabs may be packed all the same; it stands beside your name.")
		return w.Err()
	}
	return s.tx(ctx, func(t tx) error {
		l, err := t.loadOf(day)
		if err != nil {
			return err
		}
		if l.State != "hung" {
			return shop.Stop("not_hung", "The load of %s does not hang yet: there is no chill to answer for.", day.Show())
		}
		log, err := s.loadLog(t.DB, l)
		if err != nil {
			return err
		}
		c := log.Chill
		if c.Outcome == heat.Pass {
			return shop.Stop("passed", "The chill of %s passed: there is nothing to answer.", day.Show())
		}
		if c.Answer != nil {
			return shop.Stop("answered", "%s has answered already: %s", c.Answer.Actor, c.Answer.Reason)
		}
		_, _, _, last := warmest(log.Lines)
		err = t.Create(&shop.LoadAnswer{LoadID: l.ID, Outcome: string(c.Outcome), Why: c.Why, Upto: last, Reason: trim(reason), Actor: by.Name, At: t.now}).Error
		if err != nil {
			return err
		}
		return t.note(by, "load", int64(day), "chill answered", string(c.Outcome), "may be packed", trim(reason))
	})
}

// mayPack refuses to pack a slab of a load whose chill did not pass and nobody has
// answered for.
func (t tx) mayPack(sl *shop.Slab) error {
	var l shop.SmokeLoad
	err := t.Where("id IN (SELECT load_id FROM load_slabs WHERE slab_id = ?)", sl.ID).Order("day DESC").Take(&l).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return shop.Stop("no_load", "%s was smoked in no load on record: put it on hold and ask.", sl.Tag)
	}
	if err != nil {
		return err
	}
	log, err := t.s.loadLog(t.DB, &l)
	if err != nil || log.Chill.MayPack() {
		return err
	}
	c := log.Chill
	what := fmt.Sprintf("the chill of the load of %s is %q: %s", l.Day.Show(), c.Outcome, c.Why)
	if c.Outcome == NoChillLog {
		what = fmt.Sprintf("the load of %s has no chill log", l.Day.Show())
	}
	return shop.Stop("chill", "%s: %s. Somebody must answer for it by name, with a reason, on the page of that smoke day before it is packed.", sl.Tag, what)
}
