package practice

// plot is a lot being laid out. Places in it are meters along the street from
// its middle, and meters inward from the middle of the street.
type plot struct {
	lot
	dice
	middle, front, inward, wide float64
}

func (b *plot) at(along, inside, halfAlong, halfInside float64) rect {
	return rect{b.middle + along, b.front + b.inward*inside, halfAlong, halfInside}
}

// flat adds something that lies on the ground.
func (b *plot) flat(along, inside, halfAlong, halfInside float64, c rgb) {
	b.lot.flat = append(b.lot.flat, box{rect: b.at(along, inside, halfAlong, halfInside), color: c, grain: 0.35})
}

// stand adds something that has a shadow.
func (b *plot) stand(r rect, c rgb, height float64, ridge bool) {
	b.standing = append(b.standing, box{rect: r, color: c, height: height, ridge: ridge, grain: 0.35})
}

var carColors = [6]rgb{{188, 188, 186}, {90, 92, 96}, {60, 62, 68}, {128, 58, 50}, {70, 86, 112}, {150, 148, 142}}

// car parks a car along the street, or across it.
func (b *plot) car(along, inside float64, across bool) {
	long, short := 2.2, 0.9
	if across {
		long, short = short, long
	}
	b.stand(b.at(along, inside, long, short), carColors[int(b.next()*6)], 1.2, false)
	b.stand(b.at(along, inside, 0.55*long, 0.55*short+0.2), rgb{52, 58, 64}.toward(carColors[0], 0.25), 0, false)
}

var roofColors = [6]rgb{{120, 116, 111}, {124, 107, 93}, {147, 134, 115}, {95, 95, 97}, {137, 104, 87}, {164, 160, 151}}

// home is a house with its drive, yard and sheds.
func (b *plot) home() {
	b.lot.flat = append(b.lot.flat, box{rect: b.at(0, 32.5, b.wide/2-0.2, 24.5),
		color: lawn.toward(dry, b.between(-0.25, 1.1)), grain: 1, sheer: 0.5})
	c, height := roofColors[int(b.next()*6)], b.between(3.5, 5.5)
	long, deep, front := b.between(5.2, min(7.6, b.wide/2-3)), b.between(4, 5.4), b.between(14, 18)
	shift := b.between(-1, 1) * max(b.wide/2-long-3.6, 0)
	hand := 1.0
	if b.next() < 0.5 {
		hand = -1
	}
	end := b.between(front+3, front+9)
	b.flat(hand*(b.wide/2-2.1), end/2, 1.5, end/2, concrete)
	b.flat(shift, front/2, 0.6, front/2, concrete)
	b.stand(b.at(shift, front+deep, long, deep), c, height, true)
	if b.next() < 0.45 { // a wing to the yard
		b.stand(b.at(shift+long*0.4, front+deep*1.9, long*0.42, deep*0.9), c, height, true)
	}
	if b.next() < 0.4 {
		b.stand(b.at(-hand*(b.wide/2-3), b.between(44, 53), 1.8, 1.4), rgb{140, 132, 120}, 2.2, true)
	}
	if b.next() < 0.6 {
		b.car(hand*(b.wide/2-2.1), end-b.between(3, 8), true)
	}
	if b.next() < 0.3 {
		b.car(b.between(-4, 4), halfStreet-1.1, false)
	}
}

// shop is a part of a large flat roof.
func (b *plot) shop() {
	b.flat(0, 34, b.wide/2, 25, concrete.times(0.8))
	roof := rgb{176, 174, 168}.toward(rgb{138, 137, 135}, b.next())
	b.stand(b.at(0, 30, b.wide/2-0.3, b.between(13, 18)), roof, b.between(5, 8), false)
	for range 2 {
		b.stand(b.at(b.between(-0.6, 0.6)*b.wide/2, b.between(22, 38), b.between(0.8, 1.8), 1), rgb{190, 189, 184},
			1.2, false)
	}
}

// carPark has rows of stalls.
func (b *plot) carPark() {
	b.flat(0, 34, b.wide/2, 25, rgb{124, 123, 120})
	for inside := 18.0; inside < 56; inside += 16 {
		for along := -b.wide/2 + 1.5; along < b.wide/2-1.4; along += 2.8 {
			b.flat(along+1.4, inside, 0.07, 2.5, white)
			if b.next() < 0.4 {
				b.car(along, inside, true)
			}
		}
	}
}
