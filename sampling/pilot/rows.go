package pilot

func (b *builder) stopRow(line int, cells []string, place stopPlace) {
	s := b.at(place)
	if s.Line != line {
		b.errs.add(line, "stop", "stop %s of field %s was already given on line %d; one row a stop is accepted", quoted(s.Name), quoted(b.data.Fields[place.field].Name), s.Line)
		return
	}
	plants, ok := b.whole(line, cells, "plants", 1, MaxPlants)
	infested, ok2 := b.whole(line, cells, "infested", 0, MaxPlants)
	if !ok || !ok2 || !b.whollySeen(line, cells, infested) {
		return
	}
	if infested > plants {
		b.errs.add(line, "infested", "%d infested of %d plants; from 0 to the number of plants is accepted", infested, plants)
		return
	}
	s.Plants, s.Infested = plants, infested
}

func (b *builder) plantRow(line int, cells []string, place stopPlace) {
	s := b.at(place)
	plant := b.name(line, cells, "plant")
	infested, ok := b.whole(line, cells, "infested", 0, 1)
	if plant == "" || !ok {
		return
	}
	n, isNew := b.plantOf(line, plant, place)
	if !isNew {
		b.errs.add(line, "plant", "plant %s of stop %s, field %s, was already given on line %d; one row a plant is accepted",
			quoted(plant), quoted(s.Name), quoted(b.data.Fields[place.field].Name), b.lines[n])
		return
	}
	s.Plants++
	s.Infested += infested
}

func (b *builder) leafRow(line int, cells []string, place stopPlace) {
	s := b.at(place)
	plant, leaf := b.name(line, cells, "plant"), b.name(line, cells, "leaf")
	count, ok := b.whole(line, cells, "count", 0, MaxCount)
	if plant == "" || leaf == "" || !ok {
		return
	}
	n, isNew := b.plantOf(line, plant, place)
	key := [2]int32{n, b.number(leaf)}
	if first, ok := b.leaves[key]; ok {
		b.errs.add(line, "leaf", "leaf %s of plant %s, stop %s, field %s, was already given on line %d; one row a leaf is accepted",
			quoted(leaf), quoted(plant), quoted(s.Name), quoted(b.data.Fields[place.field].Name), first)
		return
	}
	b.leaves[key] = int32(line)
	if isNew {
		s.PlantCounts = append(s.PlantCounts, PlantCount{})
		s.Plants++
	}
	p := &s.PlantCounts[b.place[n]]
	p.Leaves++
	p.Insects += count
	p.Largest = max(p.Largest, count)
	b.counts[place.number-1] = append(b.counts[place.number-1], int32(count))
}

// plantOf returns the number of a plant, and whether it was not seen before.
func (b *builder) plantOf(line int, plant string, s stopPlace) (int32, bool) {
	key := [2]int32{s.number, b.number(plant)}
	if n, ok := b.plants[key]; ok {
		return n, false
	}
	n := int32(len(b.lines))
	b.plants[key] = n
	b.lines = append(b.lines, int32(line))
	b.place = append(b.place, int32(len(b.at(s).PlantCounts)))
	return n, true
}
