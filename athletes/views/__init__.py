"""Pages of people: riders, their profiles, rosters, squads, races, settings; and consent behind a link."""
