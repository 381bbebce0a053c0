package frontend

import (
	"fmt"
	"net/http"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

// ClassPage is all about one class.
type ClassPage struct {
	Layout
	Class  store.ClassPage
	Room   Room
	Change []string // what a change of mind costs, line by line
	Event  Event
}

func (s *Site) class(c echo.Context) error {
	p, err := s.Store.ClassPage(c.Request().Context(), c.Param("code"))
	if err != nil {
		return err
	}
	for i, j := range p.Jars {
		p.Jars[i].Contents, p.Jars[i].Allergens = spaced(j.Contents), spaced(j.Allergens)
	}
	return s.Render(c, http.StatusOK, "class", ClassPage{Layout: s.Layout(c, p.Title), Class: *p, Room: s.room(p.ClassCard),
		Change: changeWords(s.Store.Rules), Event: s.event(p)})
}

// spaced writes a list kept as "pepper,bay" as people do.
func spaced(list string) string {
	return strings.ReplaceAll(strings.ReplaceAll(list, ", ", ","), ",", ", ")
}

// until writes a moment as people say it: the hour alone when it is today.
func (s *Site) until(at unit.Instant) string {
	if at.Day(s.Store.Loc) == s.Store.Today() {
		return at.Clock(s.Store.Loc)
	}
	return at.Show(s.Store.Loc)
}

// changeWords says the leaving and moving rules (R4, R6) in plain words, with the shop's
// own figures.
func changeWords(r shop.Rules) []string {
	return []string{
		plural(r.FullBackDays, "day", "days") + " or more before the class: all your money back.",
		fmt.Sprintf("%d to %d days before: a credit for everything, or ", r.FullBackDays-1, r.ChooseDays) + r.ChooseShare.String() + " of the money back; you choose.",
		fmt.Sprintf("Under %d days: nothing back, unless the seat is sold again. Then a credit for everything.", r.ChooseDays),
		fmt.Sprintf("Another date of the same kind is free until %d days before, at the price you paid.", r.ChooseDays),
		"Giving your seat to a friend, or changing a name, is always free until the class starts.",
		fmt.Sprintf("A credit lasts %d months. If we call a class off or move it, you choose: all money back, another date, or a credit of ", r.CreditMonths) + r.CalledOffShare.String() + " of the money you paid.",
	}
}

// Event is the class as schema.org knows it, so that search engines and assistants read
// its date right.
type Event struct {
	Context     string     `json:"@context"`
	Type        string     `json:"@type"`
	Name        string     `json:"name"`
	Description string     `json:"description"`
	Start       string     `json:"startDate"`
	End         string     `json:"endDate"`
	Status      string     `json:"eventStatus"`
	Mode        string     `json:"eventAttendanceMode"`
	Place       EventPlace `json:"location"`
	Offers      EventOffer `json:"offers"`
	URL         string     `json:"url"`
}

// EventPlace is where it is.
type EventPlace struct {
	Type string `json:"@type"`
	Name string `json:"name"`
}

// EventOffer is what a seat costs and whether there is one.
type EventOffer struct {
	Type         string `json:"@type"`
	Price        string `json:"price"`
	Currency     string `json:"priceCurrency"`
	Availability string `json:"availability"`
	URL          string `json:"url"`
}

func (s *Site) event(p *store.ClassPage) Event {
	const vocabulary = "https://schema.org/"
	at := func(i unit.Instant) string { return i.In(s.Store.Loc).Format(time.RFC3339) }
	url := s.Store.Config.BaseURL + "/classes/" + p.Code
	e := Event{Context: "https://schema.org", Type: "Event", Name: p.Title, Description: p.Does, Start: at(p.StartsAt), End: at(p.EndsAt),
		Status: vocabulary + "EventScheduled", Mode: vocabulary + "OfflineEventAttendanceMode", URL: url,
		Place: EventPlace{Type: "Place", Name: s.Store.Config.Shop}}
	e.Offers = EventOffer{Type: "Offer", Price: fmt.Sprintf("%d.%02d", p.Price/100, p.Price%100), Currency: "USD", Availability: vocabulary + "InStock", URL: url}
	if p.State == shop.ClassOff {
		e.Status = vocabulary + "EventCancelled"
	}
	if !s.room(p.ClassCard).Free {
		e.Offers.Availability = vocabulary + "SoldOut"
	}
	return e
}
