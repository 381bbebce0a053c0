package frontend

import (
	"fmt"
	"time"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

// Event is the class as schema.org knows it, so that search engines and assistants read
// its date, place and price right. Names and ranges are those of the vocabulary's pages
// schema.org/Event, /Place, /PostalAddress, /Offer and /Organization; a test holds them
// against a table of it.
type Event struct {
	Context     string       `json:"@context"`
	Type        string       `json:"@type"`
	Name        string       `json:"name"`
	Description string       `json:"description,omitempty"`
	Start       string       `json:"startDate"`
	End         string       `json:"endDate"`
	Status      string       `json:"eventStatus"`
	Mode        string       `json:"eventAttendanceMode"`
	Place       EventPlace   `json:"location"`
	Organizer   EventShop    `json:"organizer"`
	Offers      []EventOffer `json:"offers"`
	Image       []string     `json:"image"`
	Ages        string       `json:"typicalAgeRange,omitempty"`
	Seats       int          `json:"maximumAttendeeCapacity,omitempty"`
	URL         string       `json:"url"`
}

// EventPlace is where it is.
type EventPlace struct {
	Type    string        `json:"@type"`
	Name    string        `json:"name"`
	Address *EventAddress `json:"address,omitempty"`
}

// EventAddress is the shop's door.
type EventAddress struct {
	Type     string `json:"@type"`
	Street   string `json:"streetAddress,omitempty"`
	Place    string `json:"addressLocality,omitempty"`
	Region   string `json:"addressRegion,omitempty"`
	Postcode string `json:"postalCode,omitempty"`
	Country  string `json:"addressCountry,omitempty"`
}

// EventShop is who holds it.
type EventShop struct {
	Type  string `json:"@type"`
	Name  string `json:"name"`
	URL   string `json:"url"`
	Phone string `json:"telephone,omitempty"`
}

// EventOffer is what a seat costs and whether there is one.
type EventOffer struct {
	Type         string `json:"@type"`
	Name         string `json:"name"`
	Price        string `json:"price"`
	Currency     string `json:"priceCurrency"`
	ValidThrough string `json:"priceValidUntil,omitempty"`
	Availability string `json:"availability"`
	URL          string `json:"url"`
}

const vocabulary = "https://schema.org/"

func (s *Site) event(p *store.ClassPage, at shop.Address) Event {
	moment := func(i unit.Instant) string { return i.In(s.Store.Loc).Format(time.RFC3339) }
	base := s.Store.Config.BaseURL
	url := base + "/classes/" + p.Code
	e := Event{Context: "https://schema.org", Type: "Event", Name: p.Title, Description: p.Does, Start: moment(p.StartsAt), End: moment(p.EndsAt),
		Status: vocabulary + "EventScheduled", Mode: vocabulary + "OfflineEventAttendanceMode", URL: url,
		Place:     EventPlace{Type: "Place", Name: s.Store.Config.Shop},
		Organizer: EventShop{Type: "Organization", Name: s.Store.Config.Shop, URL: base + "/", Phone: at.Phone},
		Image:     []string{url + "/picture.png"}, Seats: p.Seats}
	if at.Lines() != "" {
		e.Place.Address = &EventAddress{Type: "PostalAddress", Street: at.Street, Place: at.Place, Region: at.Region, Postcode: at.Postcode, Country: at.Country}
	}
	if p.MinAge > 0 {
		least := p.MinAge
		if p.WatchAge > 0 {
			least = min(least, p.WatchAge)
		}
		e.Ages = fmt.Sprintf("%d-", least)
	}
	if p.State == shop.ClassOff {
		e.Status = vocabulary + "EventCancelled"
	}
	room := s.room(p.ClassCard)
	free := vocabulary + "SoldOut"
	switch {
	case room.Free:
		free = vocabulary + "InStock"
	case room.Held: // what is left may come free within minutes
		free = vocabulary + "LimitedAvailability"
	}
	offer := func(name string, price unit.Money) {
		o := EventOffer{Type: "Offer", Name: name, Price: fmt.Sprintf("%d.%02d", price/100, price%100), Currency: "USD", Availability: free, URL: url}
		if p.NextFrom > 0 && price == p.Price {
			o.ValidThrough = (p.NextFrom - 1).Day(s.Store.Loc).String()
		}
		e.Offers = append(e.Offers, o)
	}
	offer("Seat", p.Price)
	if p.Slabs && p.WatchAge > 0 && p.WatchPrice > 0 {
		offer("Watching seat", p.WatchPrice)
	}
	return e
}
