"""The words that passphrases are made of: short, plain, of harbour, bench and kitchen.

Our own list. No word is another one with a letter added at its end (a slip of the pen would
go unnoticed), none has more than six letters (so that a passphrase fits on one line of a card),
none is unkind, none is hard to say aloud.
"""

from typing import Final

WORDS: Final[tuple[str, ...]] = tuple(
    """
    acorn adze alder almond amber anchor ankle anvil apple apron arbor arch arrow ash aspen attic
    autumn awl awning badger bagel baker bamboo banjo barge barley barn barrel basil basket bay
    beacon beam bean beaver bench berry bevel birch block bloom bluff board bobbin bolt bonnet book
    border bottle bowl braid branch brass bread breeze brick bridge bright broom brush bucket
    buckle bugle bunk buoy burrow butter button cabin cable cactus camel candle canoe canvas canyon
    caper cargo carpet carrot cart castle cedar cellar cement chain chalk chapel cherry chest
    chisel cinder circle clamp clay cliff cloak clock cloud clover cobalt cobble cocoa comet copper
    coral cork corner cotton couch cove cradle crane crater crayon creek crocus crown cumin daisy
    dawn deck delta denim desk dinghy dipper dock dome door dory dough dove dowel draft drawer
    drift drum dune dusk dust eagle easel ebony echo elbow elder elm ember emery engine fable
    falcon farm fennel fern ferry fiddle field fig file finch fir flag flame flask flint float
    flour flute foam fog folder forest forge fork fossil fox frame frost funnel gable gadget galley
    gallon garden garlic garnet gate gauge geyser ginger glade glass glider globe glove glue goggle
    goose gorge grain grape gravel groove grotto grove guitar gull gust gutter hammer handle harbor
    harp hatch hawk hawser hazel heath hedge helm hermit heron hill hinge hive holly honey hood
    hook horn hound husk ibis icicle igloo indigo ingot inlet iris iron island ivory ivy jacket
    jade jar jasper jersey jetty jewel jigsaw jolly jug kayak keel kelp kernel kettle key kiln kite
    kitten knot koala ladder ladle lagoon lake lamp larch lark latch lathe lava leaf ledger lemon
    lentil lever lichen lilac lily lime linen lintel lizard llama locket loft loom lotus lumber
    lupin lute magnet mallet mango mantle maple marble marlin marsh marten mast meadow medal melon
    mill mimosa minnow mint mirror mitten moat mole moor mortar moss moth muffin mulch mussel
    myrtle nail napkin nectar needle nettle nickel north notch nougat nutmeg oak oar oasis oat
    ocean ochre olive onion opal orbit orchid osprey otter oven owl oyster paddle paint panda
    pantry paper parade parcel pastry patch path peach peanut pear pebble pedal pencil pepper perch
    piano pickle pier pigeon pillow pilot pine pivot plank planet plate pliers plum pocket polar
    pollen pond pony poplar poppy porch portal potato primer prism puffin pulley pumice pump puzzle
    quail quarry quartz quay quill quilt quince rabbit radish raft rail raisin ramp raven reed reef
    relay ribbon ridge river rivet robin rocket rope rose rosin rowan rudder ruler runway russet
    saddle sage sail salmon salt sandal saucer scale scarf school scoop scout scribe seal season
    sedge seed shale sheep shell shore shovel sickle silk silver skate sketch skiff sky slate sled
    sloop smelt snail snow socket solder sonnet soup spade spiral sponge spool spoon spring spruce
    spur stable stamp star steam steel stem stone stork storm strand straw stream string sugar
    summer summit swan swift syrup table tango tansy tartan teapot temple tent thread thrush thyme
    ticket tide tiger tile timber tinsel toast tomato tongs topaz torch tower trail tram tray trout
    trunk tulip tundra tunnel turnip turtle tweed twig twine umber vale valley vase vault velvet
    verse vine viola violet vise voyage waffle wagon walnut walrus washer water wave wax weasel
    weaver wharf wheat wheel willow window winter wool wren yacht yard yarn yeast zebra zephyr zinc
    zipper
    """.split()  # noqa: SIM905  # six hundred quoted words are harder to read
)
