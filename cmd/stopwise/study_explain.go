package main

func studyExplain() studyPart { return studyPart{name: "explain", usage: "x"} }
