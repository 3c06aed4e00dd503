"""From the film list to stills, a full-screen sequence and a video."""
