package stream

import (
	"container/list"
	"encoding/binary"

	"colonnade/analyze/levels"
)

// cache keeps tiles while memory lasts; those not used for longest go first.
type cache struct {
	limit, size int64
	places      map[string]*list.Element
	recent      list.List // of kept, last used first
}

type kept struct {
	key  string
	tile []byte
}

func newCache(limit int64) cache {
	return cache{limit: limit, places: map[string]*list.Element{}}
}

// key names a tile: the area's number and the levels of its columns.
func key(area int, columns []int, tuple []levels.Level) string {
	out := binary.LittleEndian.AppendUint32(make([]byte, 0, 32), uint32(area))
	for _, column := range columns {
		out = binary.LittleEndian.AppendUint32(out, uint32(tuple[column]))
	}
	return string(out)
}

// get is the tile of a key, nil when it is not kept.
func (c *cache) get(key string) []byte {
	place, ok := c.places[key]
	if !ok {
		return nil
	}
	c.recent.MoveToFront(place)
	return place.Value.(kept).tile
}

// put keeps a tile that was not kept. It may drop others, and the tile itself when it alone is too large.
func (c *cache) put(key string, tile []byte) {
	c.places[key] = c.recent.PushFront(kept{key, tile})
	c.size += int64(len(tile))
	for c.size > c.limit {
		last := c.recent.Remove(c.recent.Back()).(kept)
		delete(c.places, last.key)
		c.size -= int64(len(last.tile))
	}
}
