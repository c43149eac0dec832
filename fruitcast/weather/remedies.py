"""What a grower can do about weather that does not reach, in the words of the messages."""

TAKE_IN = "'fruitcast weather import FILE'"
BY_STATION = 'station = "nearest" under [weather] in yard.toml'
LONGER_RECORD = f"Take in a longer record ({TAKE_IN}), or go by a station: {BY_STATION}"
