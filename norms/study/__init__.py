"""The analyst's question: which pelvis patterns go with ball speed, within and between golfers."""
