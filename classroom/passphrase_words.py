"""The words that passphrases are made of: short, plain, of harbour, bench and kitchen.

Our own list. No word is another one with a letter added at its end (a slip of the pen would
go unnoticed), none is unkind, none is hard to say aloud.
"""

from typing import Final

WORDS: Final[tuple[str, ...]] = tuple(
    """
    acorn adze alder almond amber anchor ankle anvil apple apron arbor arch arrow ash aspen attic
    autumn awl awning badger bagel baker balcony bamboo banjo barge barley barn barrel basil basket
    bay beacon beam bean beaver bellows bench berry bevel birch biscuit blanket block bloom bluff
    board bobbin bolt bonnet book border bottle bowl bracket braid bramble branch brass bread breeze
    brick bridge bright broom brush bucket buckle bugle bunk buoy burrow butter button cabin cable
    cactus camel candle canoe canvas canyon caper cargo carpet carrot cart castle cedar cellar
    cement chain chalk chapel cherry chest chimney chisel cinder circle clamp clarinet clay
    cliff cloak clock cloud clover cobalt cobble cocoa comet compass copper coral cork corner cotton
    couch cove cradle crane crater crayon creek cricket crocus crown cumin cupboard current curtain
    daisy dawn deck delta denim desk dinghy dipper dock dome door dory dough dove dowel draft drawer
    drift drum dune dusk dust eagle easel ebony echo elbow elder elm ember emery engine estuary
    fable falcon farm feather fennel fern ferry fiddle field fig file finch fir flag flame flannel
    flask flint float flour flute foam fog folder forest forge fork fossil fox frame frost funnel
    gable gadget galley gallon garden garlic garnet gate gauge geyser ginger glacier glade glass
    glider globe glove glue goggle goose gorge grain granite grape gravel groove grotto grove guitar
    gull gust gutter hammer hammock handle harbor harp harvest hatch hawk hawser hazel heath hedge
    helm hermit heron hill hinge hive holly honey hood hook horizon horn hound husk ibis icicle
    igloo indigo ingot inlet iris iron island ivory ivy jacket jade jar jasmine jasper jersey jetty
    jewel jigsaw jolly jug juniper kayak keel kelp kernel kestrel kettle key kiln kite kitten
    knapsack knot koala ladder ladle lagoon lake lamp lantern larch lark latch lathe lava lavender
    leaf ledger lemon lentil lever lichen lilac lily lime linen lintel lizard llama lobster locket
    loft loom lotus lumber lupin lute magnet mallet mango mantle maple marble marlin marsh marten
    mast meadow medal melon mercury mill mimosa minnow mint mirror mitten moat mole moor moraine
    mortar moss moth mountain muffin mulch mussel mustard myrtle nail napkin nectar needle nettle
    nickel north notch nougat nutmeg oak oar oasis oat ocean ochre olive onion opal orbit orchard
    orchid osprey otter oven owl oyster paddle paint palette panda pantry paper parade parcel
    parsley pastry patch path pavement peach peanut pear pebble pedal pelican pencil pepper perch
    piano pickle pier pigeon pillow pilot pine pivot plank planet plate pliers plum pocket polar
    pollen pond pony poplar poppy porch portal potato pottery prairie primer prism puffin pulley
    pumice pump pumpkin puzzle quail quarry quartz quay quill quilt quince rabbit radish raft rail
    raisin ramp raven reed reef relay ribbon ridge river rivet robin rocket rope rose rosin rowan
    rudder ruler runway russet saddle saffron sage sail salmon salt sandal sapphire satchel saucer
    scale scarf school scoop scout scribe seal season sedge seed shale sheep shell shelter shingle
    shore shovel shuttle sickle silk silver skate sketch skiff sky slate sled slipper sloop smelt
    snail snow socket solder sonnet soup spade spanner sparrow spiral sponge spool spoon spring
    spruce spur stable stamp star steam steel stem stone stork storm strand straw stream string
    sugar summer summit sundial swallow swan sweater swift syrup table tango tansy tartan teapot
    temple tent thicket thimble thistle thread thrush thyme ticket tide tiger tile timber tinsel
    toast tomato tongs topaz torch tower trail tram tray trellis triangle trout trumpet trunk tulip
    tundra tunnel turnip turtle tweed twig twine umber vale valley vanilla vase vault velvet
    veranda verse vine viola violet vise voyage waffle wagon walnut walrus washer water wave wax
    weasel weaver wharf wheat wheel whistle willow window winter wisteria wool wren yacht yard yarn
    yeast zebra zephyr zinc zipper
    """.split()  # noqa: SIM905  # six hundred quoted words are harder to read
)
