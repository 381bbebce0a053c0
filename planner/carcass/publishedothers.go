package carcass

import "flitchbook/planner/unit"

func publishedLamb() []Published {
	return []Published{
		{Key: "lamb-wisconsin", Species: "lamb", Animal: "market lamb", Skin: NotStated, Head: NotStated,
			Figures: []Figure{{"dressing", OfLive, span(4400, 5600)}, {"dressing, shorn", OfLive, at(5400)}, {"dressing, unshorn", OfLive, at(5200)},
				{"cutting, boneless close trim", OfCold, span(4300, 5000)}, {"cutting, bone in", OfCold, span(6500, 7500)}},
			Source: `University of Wisconsin Extension, "How Much Meat Should a Lamb Yield?", tables 1 and 2, reprinted by the Ohio State Sheep Team`, Date: "2023", Tag: "read"},
		{Key: "lamb-wisconsin-shrink", Species: "lamb", Animal: "market lamb", Skin: NotStated, Head: NotStated,
			Figures: []Figure{{"chill shrink, first day", OfHot, span(200, 500)}},
			Source:  "University of Wisconsin Extension, beef and lamb yield pages", Tag: "read where quoted"},
		{Key: "lamb-handbook", Species: "lamb", Animal: "lamb carcass of 100 lb, cutting test", Skin: NotStated, Head: NotStated, HCW: 100 * unit.Pound, Of: OfCold,
			Figures: []Figure{{"boneless of loin", OfCut, at(5400)}, {"boneless of rack", OfCut, at(6000)}, {"boneless of shoulder", OfCut, at(6900)},
				{"boneless of breast, shank, neck", OfCut, at(3800)}, {"boneless of long saddle", OfCut, at(6350)}, {"bones for soup", OfCold, at(1150)}},
			Cuts:   []PrintedCut{{"legs with sirloin", at(3200)}, {"loin", at(1300)}, {"rack", at(1100)}, {"shoulders", at(2300)}, {"breast, shanks, neck", at(2100)}},
			Source: `"Handbook on Cutting Lamb", cutting test`, Tag: "read", Note: "rack of 8 ribs, shoulders of 5"},
		{Key: "lamb-missouri", Species: "lamb", Animal: "lamb, trimmed cuts", Skin: NotStated, Head: NotStated, Of: OfHot,
			Cuts:   []PrintedCut{{"shoulder", at(2000)}, {"rack", at(700)}, {"loin", at(800)}, {"leg", at(2400)}, {"breast and flank", at(1700)}},
			Source: "University of Missouri Extension, Ag Connection, product-yield table", Tag: "read", Note: "a trimmed basis: 24 % is not listed"},
		{Key: "sheep-kentucky", Species: "lamb", Animal: "shorn sheep", Skin: NotStated, Head: NotStated, Figures: []Figure{{"dressing", OfLive, span(5000, 5300)}},
			Source: "University of Kentucky Extension ASC-179, table 1", Tag: "read"},
	}
}

func publishedGoat() []Published {
	return []Published{
		{Key: "goat-kentucky", Species: "goat", Animal: "goat", Skin: NotStated, Head: NotStated, Figures: []Figure{{"dressing", OfLive, span(4500, 5000)}},
			Source: "University of Kentucky Extension ASC-179, table 1", Tag: "read"},
		{Key: "goat-georgia", Species: "goat", Animal: "goat, average", Skin: NotStated, Head: NotStated, Figures: []Figure{{"dressing", OfLive, at(4300)}},
			Source: `University of Georgia Extension, "Determining Yield of Livestock"`, Date: "2011", Tag: "read"},
		{Key: "goat-maryland-2010", Species: "goat", Animal: "buck test", Skin: NotStated, Head: NotStated, SampleSize: 10, Shrink: hundredths(120),
			Figures: []Figure{{"dressing", OfLive, span(4400, 5290)}, {"dressing, mean of the ten", OfLive, at(4810)}},
			Source:  "Western Maryland goat test, carcass report", Date: "2010", Tag: "read"},
		{Key: "goat-maryland-2009", Species: "goat", Animal: "buck test", Skin: NotStated, Head: NotStated, Shrink: hundredths(350),
			Figures: []Figure{{"chill shrink", OfHot, at(350)}},
			Source:  "Western Maryland goat test, carcass report", Date: "2009", Tag: "derived", Note: "31.0 lb hot, 29.9 lb cold"},
		{Key: "goat-cornell", Species: "goat", Animal: "weaned Boer market kid of 77 lb live", Skin: NotStated, Head: NotStated, SampleSize: 1, Of: OfHot,
			HCW: 395 * unit.Pound / 10, Figures: []Figure{{"dressing", OfLive, at(5130)}, {"cutting", OfHot, at(7840)}, {"packaged of live", OfLive, at(4030)}},
			Source: `Cornell Small Farms, "Distribution of Retail Cuts in a Weaned Boer Market Kid"`, Date: "2009", Tag: "read"},
	}
}

func publishedBeef() []Published {
	return []Published{
		{Key: "beef-kentucky", Species: "beef", Animal: "steer", Skin: NotStated, Head: NotStated,
			Figures: []Figure{{"dressing, grain fed", OfLive, span(6000, 6300)}, {"dressing, grass fed", OfLive, span(5600, 5800)}},
			Source:  "University of Kentucky Extension ASC-179, table 1", Tag: "read"},
		{Key: "beef-nebraska", Species: "beef", Animal: "finished cattle", Skin: NotStated, Head: NotStated, Figures: []Figure{{"dressing", OfLive, span(6000, 6400)}},
			Source: "University of Nebraska BeefWatch, 2020; Mississippi State Extension P3489", Date: "2020", Tag: "read"},
		{Key: "beef-oklahoma", Species: "beef", Animal: "steer of 1,000 lb live, retail cuts", Skin: NotStated, Head: NotStated, HCW: 610 * unit.Pound,
			Figures: []Figure{{"dressing", OfLive, at(6100)}, {"cutting", OfHot, at(7050)}, {"packaged of live", OfLive, at(4300)}},
			Source:  `Oklahoma Department of Agriculture, brochure "How Much Meat?" (steer)`, Tag: "read"},
		{Key: "beef-mf3395", Species: "beef", Animal: "beef carcass", Skin: NotStated, Head: NotStated, Of: OfHot,
			Cuts: []PrintedCut{{"round", at(2200)}, {"sirloin", at(700)}, {"short loin", at(1000)}, {"flank", at(500)}, {"rib", at(900)}, {"short plate", at(1000)},
				{"brisket", at(400)}, {"chuck", at(2700)}, {"shank", at(300)}, {"kidney, pelvic and heart fat", at(300)}},
			Source: "Kansas State University MF3395", Tag: "read", Note: "hindquarter 44 % without its fat, 47 % with it [derived]"},
		{Key: "beef-missouri", Species: "beef", Animal: "beef carcass, trimmed cuts", Skin: NotStated, Head: NotStated, Of: OfHot,
			Cuts: []PrintedCut{{"chuck", at(1100)}, {"rib", at(500)}, {"strip", at(400)}, {"sirloin", at(500)}, {"rump", at(200)}, {"round", at(1200)},
				{"plate, flank, brisket", at(1200)}},
			Source: "University of Missouri Extension, Ag Connection, product-yield table", Tag: "read", Note: "a trimmed basis: 49 % is not listed"},
		{Key: "beef-kansas-1972", Species: "beef", Animal: "beef carcass of 600 lb", Skin: NotStated, Head: NotStated,
			Figures: []Figure{{"chill shrink, overnight", OfHot, span(100, 200)}},
			Source:  `Kansas State University, Cattlemen's Day 1972, "Meat Shrinkage"`, Date: "1972", Tag: "read"},
		{Key: "beef-quarters", Species: "beef", Animal: "beef side", Skin: NotStated, Head: NotStated,
			Figures: []Figure{{"hindquarter", OfSide, span(4700, 4900)}, {"hindquarter, usual", OfSide, at(4800)}, {"forequarter", OfSide, span(5100, 5300)}},
			Source:  `"Types and Market Classes of Live Stock"`, Tag: "read", Note: "an early twentieth-century textbook"},
	}
}

// publishedDeer is what is printed about deer. The shop takes farmed, inspected deer
// only. "Field-dressed" differs between these sources: see LiveOf.
func publishedDeer() []Published {
	return []Published{
		{Key: "deer-wyoming", Species: "deer", Animal: "mule deer; viscera and feet off", Skin: On, Head: On,
			Figures: []Figure{{"field-dressed", OfLive, at(gutsAndFeetOfLive)}, {"boneless", OfFieldDressed, at(4800)}},
			Source:  "University of Wyoming B-589R", Tag: "read where quoted"},
		{Key: "deer-hunting-page", Species: "deer", Animal: "deer; guts out", Skin: On, Head: On,
			Figures: []Figure{{"field-dressed", OfLive, at(7800)}},
			Source:  "a hunting page", Tag: "read where quoted", Note: "live = field-dressed × 1.28; another definition than Wyoming's"},
		{Key: "deer-michigan", Species: "deer", Animal: "deer", Skin: On, Head: On,
			Figures: []Figure{{"boneless", OfFieldDressed, at(4800)}},
			Source:  `Michigan State University Extension, "Preserving Food Safely" 01600637`, Date: "1997", Tag: "read",
			Note: "single animals stand 5 % to either side, 15 % at the extreme; bone-in cuts follow 0.61 × field-dressed − 3.7 lb [derived]; the printed boneless figure for 50 lb is a misprint"},
	}
}
