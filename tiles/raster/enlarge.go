package raster

import (
	"image"
	"math"
)

// Enlarge is [Child] in whatever form of image is encoded fastest. A JPEG's
// planes are enlarged as they are, which saves turning them into colors and
// back.
func Enlarge(parent image.Image, down, x, y uint32, side int) image.Image {
	m, ok := parent.(*image.YCbCr)
	if side <= 0 {
		side = 256
	}
	if !ok || down == 0 || !evenPlanes(m) || m.Rect.Dx()>>min(down, 31) < 1 || m.Rect.Dy()>>min(down, 31) < 1 || side%2 != 0 {
		return Child(parent, down, x, y, side)
	}
	out := image.NewYCbCr(image.Rect(0, 0, side, side), m.SubsampleRatio)
	for _, p := range []struct{ to, from plane }{
		{plane{out.Y, out.YStride, side, side}, plane{m.Y, m.YStride, m.Rect.Dx(), m.Rect.Dy()}},
		{chroma(out, out.Cb), chroma(m, m.Cb)},
		{chroma(out, out.Cr), chroma(m, m.Cr)},
	} {
		enlargePlane(p.to, p.from, down, x, y)
	}
	return out
}

// plane is one color component of an image.
type plane struct {
	pix                   []uint8
	stride, width, height int
}

// evenPlanes reports whether the planes cover the same ground to the pixel.
func evenPlanes(m *image.YCbCr) bool {
	switch m.SubsampleRatio {
	case image.YCbCrSubsampleRatio444, image.YCbCrSubsampleRatio422, image.YCbCrSubsampleRatio420:
		return m.Rect.Min == image.Point{} && m.Rect.Dx()%2 == 0 && m.Rect.Dy()%2 == 0
	}
	return false
}

func chroma(m *image.YCbCr, pix []uint8) plane {
	p := plane{pix, m.CStride, m.Rect.Dx(), m.Rect.Dy()}
	switch m.SubsampleRatio {
	case image.YCbCrSubsampleRatio420:
		p.width, p.height = p.width/2, p.height/2
	case image.YCbCrSubsampleRatio422:
		p.width /= 2
	}
	return p
}

// tap is where the four pixels around an enlarged one lie, and their weights in
// parts of one.
type tap struct {
	at     [4]int32
	weight [4]int32
}

const one = 1 << 12

// taps are the weights of the Catmull-Rom spline (cubic convolution with
// a = -1/2: Keys 1981, from memory) for the part of a width that a child covers.
func taps(width, side int, down, index uint32) []tap {
	all := make([]tap, side)
	size := math.Ldexp(float64(width), -int(down))
	from := min(float64(index), math.Ldexp(1, int(down))-1) * size
	for i := range all {
		at := from + (float64(i)+0.5)*size/float64(side) - 0.5
		base := math.Floor(at)
		f := at - base
		weights := [4]float64{
			((-f+2)*f - 1) * f / 2, ((3*f-5)*f*f + 2) / 2, ((-3*f+4)*f + 1) * f / 2, (f - 1) * f * f / 2,
		}
		rest := int32(one)
		for k, w := range weights {
			all[i].at[k] = int32(min(max(int(base)+k-1, 0), width-1))
			all[i].weight[k] = int32(math.Round(w * one))
			rest -= all[i].weight[k]
		}
		all[i].weight[1] += rest // even ground stays even
	}
	return all
}

// enlargePlane enlarges the needed rows horizontally first, then vertically.
func enlargePlane(to, from plane, down, x, y uint32) {
	across, along := taps(from.width, to.width, down, x), taps(from.height, to.height, down, y)
	first, last := along[0].at[0], along[len(along)-1].at[3]
	wide := make([]int32, int(last-first+1)*to.width)
	for row := first; row <= last; row++ {
		source := from.pix[int(row)*from.stride:]
		line := wide[int(row-first)*to.width:][:to.width]
		for i := range line {
			t := &across[i]
			line[i] = (t.weight[0]*int32(source[t.at[0]]) + t.weight[1]*int32(source[t.at[1]]) +
				t.weight[2]*int32(source[t.at[2]]) + t.weight[3]*int32(source[t.at[3]])) >> 4
		}
	}
	for row := range along {
		t := &along[row]
		var lines [4][]int32
		for k := range lines {
			lines[k] = wide[int(t.at[k]-first)*to.width:][:to.width]
		}
		a, b, c, d := lines[0], lines[1], lines[2], lines[3]
		line := to.pix[row*to.stride:][:to.width]
		for i := range line {
			v := (t.weight[0]*a[i] + t.weight[1]*b[i] + t.weight[2]*c[i] + t.weight[3]*d[i] + 1<<19) >> 20
			line[i] = uint8(min(max(v, 0), 255))
		}
	}
}
