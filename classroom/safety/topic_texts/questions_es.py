"""The questions of each safety topic, in Spanish; in the order of the English ones."""

from __future__ import annotations

from typing import Final

from .shapes import Question

QUESTIONS: Final[dict[str, tuple[Question, ...]]] = {
    "saw-frame": (
        Question(
            "¿Cuándo te pones la protección para los ojos?",
            "Antes de montar la hoja",
            ("Cuando está hecho el primer corte", "Solo cuando se ha roto una hoja"),
            "Una hoja puede romperse mientras la tensas, no solo mientras sierras.",
        ),
        Question(
            "¿Hacia dónde apuntan los dientes de la hoja?",
            "Hacia ti y hacia abajo, al mango",
            ("Lejos de ti y hacia arriba", "Da lo mismo"),
            "La sierra corta al bajar; por eso los dientes apuntan hacia el mango.",
        ),
        Question(
            "¿Cómo sabes que la hoja está bastante tensa?",
            "Suena cuando la pulsas",
            ("Se dobla un poco cuando la aprietas", "No se mueve ni con alicates"),
            "Una hoja floja se desvía y se rompe. Una tensa da una nota clara.",
        ),
        Question(
            "Te acercas al final de un corte. ¿Qué haces?",
            "Aprieto menos, para que la hoja no salte",
            ("Aprieto más para terminar", "Rompo la pieza doblándola con la mano"),
            "Ahí la hoja sale de golpe y puede alcanzar un dedo.",
        ),
        Question(
            "¿Dónde va una hoja rota?",
            "A la caja de hojas",
            ("A la basura", "Al suelo, para barrerla después"),
            "Los trozos de hoja pinchan como agujas; la caja protege las manos de los demás.",
        ),
    ),
    "drill-press": (
        Question(
            "¿Cómo se sujeta una chapa fina mientras la taladras?",
            "Con una mordaza sobre un taco de madera",
            ("Con las dos manos", "Con una mano enguantada"),
            "La chapa fina puede engancharse en la broca y girar. Una mano no la aguanta.",
        ),
        Question(
            "¿Por qué no se llevan guantes en el taladro de columna?",
            "Pueden engancharse y arrastrar la mano",
            ("Ensucian el metal", "Dan demasiado calor"),
            "Todo lo suelto puede enrollarse en la broca: guantes, mangas, pelo, cordones.",
        ),
        Question(
            "¿Qué haces con la llave del portabrocas antes de encender?",
            "La quito del portabrocas",
            ("La dejo puesta, para tenerla a mano", "Le doy la vuelta"),
            "Una llave olvidada sale disparada cuando la máquina arranca.",
        ),
        Question(
            "Hay virutas en la mesa. ¿Cómo las quitas?",
            "Con un cepillo, cuando la broca está parada",
            ("Soplando", "Con un dedo, mientras la broca se para"),
            "Las virutas cortan y saltan a los ojos; una broca que se para todavía gira.",
        ),
        Question(
            "¿Por qué marcas el punto con el granete?",
            "Para que la broca empiece donde quiero",
            ("Para hacer la chapa más fina", "Para oír cómo suena el metal"),
            "Sin la marca la broca resbala y puede romperse.",
        ),
    ),
    "hand-shears": (
        Question(
            "¿Qué miras antes de cerrar las hojas?",
            "Dónde están mis dos manos",
            ("Qué hora es", "Si las tijeras son nuevas"),
            "Las tijeras cortan un dedo igual que el metal: sabe dónde está cada dedo.",
        ),
        Question(
            "¿Cuántas personas trabajan a la vez en la cizalla de banco?",
            "Una",
            ("Dos: una en la palanca y otra en la chapa", "Todas las que quepan"),
            "Quien mueve la palanca debe ser quien tiene las manos cerca de las hojas.",
        ),
        Question(
            "Has terminado con la cizalla. ¿Qué haces ahora?",
            "Bloqueo la palanca",
            ("Dejo la palanca arriba para el siguiente", "Dejo caer la palanca"),
            "Una palanca que cae cierra las hojas por sí sola.",
        ),
        Question(
            "Acabas de cortar una tira. ¿Cómo tratas sus bordes?",
            "Como afilados, hasta que estén limados",
            (
                "Como lisos, porque las tijeras no sierran",
                "No hace falta cuidado si la tira es corta",
            ),
            "Los bordes y las esquinas recién cortados hieren. Límalos antes de pasar el metal.",
        ),
    ),
    "foot-guillotine": (
        Question(
            "¿Dónde están tus manos mientras baja la hoja?",
            "Las dos detrás de la protección",
            ("Una en la tira que se corta", "Debajo del pisón"),
            "La hoja es más rápida que una mano; detrás de la protección no la alcanza.",
        ),
        Question(
            "¿Cuándo quitas el pie del pedal?",
            "Antes de acercar las manos a las partes",
            ("Después de sacar las partes", "Solo al final de la clase"),
            "Un pie que se queda en el pedal baja la hoja sobre una mano.",
        ),
        Question(
            "Un compañero quiere sujetar la chapa mientras pisas el pedal. ¿Qué le dices?",
            "No: trabaja una sola persona",
            ("Sí, así va más rápido", "Sí, si la chapa es grande"),
            "Quien pisa el pedal no puede vigilar los dedos de otro.",
        ),
        Question(
            "¿Qué no debe ir nunca bajo la hoja?",
            "Alambre, varilla o acero templado",
            ("Chapa de cobre", "Chapa de latón"),
            "Mellan la hoja, y saltan trozos de ella.",
        ),
    ),
    "abrasives-dust": (
        Question(
            "¿Cómo limpias el polvo del banco?",
            "Con un paño húmedo",
            ("Soplando", "Con aire comprimido"),
            "El polvo que vuela entra en pulmones y ojos. El húmedo se queda en el paño.",
        ),
        Question(
            "¿Qué haces antes de comer o de tocarte la cara?",
            "Lavarme las manos",
            (
                "Limpiarme las manos en la ropa",
                "Nada, si llevaba protección para los ojos",
            ),
            "El polvo de metal de manos y ropa llega a la boca y a los ojos.",
        ),
        Question(
            "¿Por qué se guarda el polvo de aluminio aparte del de hierro y acero?",
            "Juntos, o cerca de una llama, pueden arder con fuerza",
            ("Cambia el color del acero", "Vale más dinero"),
            "El polvo fino de aluminio puede arder, y con polvo de hierro y chispas, más aún.",
        ),
        Question(
            "¿A qué ritmo lijas sobre el taco?",
            "Tan despacio que no vuele polvo",
            ("Lo más rápido que puedo", "Rápido al principio, para ahorrar papel"),
            "Los movimientos lentos y parejos lijan igual de bien y no levantan polvo.",
        ),
    ),
    "adhesives-solvents": (
        Question(
            "¿Qué adhesivo usas si nadie ha dicho otra cosa?",
            "El que es a base de agua",
            ("El que huele más fuerte", "El del frasco que esté abierto"),
            "El adhesivo a base de agua no da vapores que ardan.",
        ),
        Question(
            "¿Qué no debe haber en la sala mientras la acetona está abierta?",
            "Una llama, un soplete, una chispa o una placa caliente",
            ("Una ventana abierta", "Un paño mojado"),
            "El vapor pesa más que el aire, se arrastra por mesas y suelo, y se inflama.",
        ),
        Question(
            "Un frasco pequeño no lleva etiqueta. ¿Qué haces?",
            "No lo uso y se lo llevo al profesor",
            ("Lo huelo para saber qué es", "Lo vacío en un frasco más grande"),
            "Todo frasco necesita una etiqueta con su nombre y sus peligros, por pequeño que sea.",
        ),
        Question(
            "¿Dónde lees lo que un producto puede hacerte?",
            "En su ficha de datos de seguridad y en su etiqueta",
            ("En la etiqueta del precio", "En ningún sitio: es secreto"),
            "La ficha de datos de seguridad de cada producto en uso está al alcance.",
        ),
        Question(
            "Has tomado las gotas que necesitas. ¿Qué es lo primero ahora?",
            "Cerrar la tapa",
            ("Extender las gotas con un dedo", "Dejarlo abierto para el siguiente"),
            "Un frasco abierto llena la sala de vapor y se puede volcar.",
        ),
    ),
    "hot-water-soak": (
        Question(
            "¿Cómo de caliente está el agua?",
            "Como la de un baño",
            ("Tanto que echa vapor", "Hirviendo"),
            "El agua que echa vapor quema. La tibia quita el papel igual de bien.",
        ),
        Question(
            "Ha caído agua al suelo. ¿Qué haces?",
            "La seco enseguida",
            ("Dejo que se seque", "Espero al final de la clase"),
            "Alguien con un arco de sierra en la mano puede resbalar.",
        ),
        Question(
            "¿Cómo sacas una pieza aserrada del recipiente?",
            "Por sus caras planas, mirando dónde están los bordes",
            ("Buscando los bordes a tientas", "Volcando el recipiente en la mesa"),
            "Los bordes cortan bajo el agua igual que fuera, y la piel mojada se corta antes.",
        ),
        Question(
            "¿Dónde se pone el recipiente?",
            "Lejos de enchufes y máquinas",
            ("Al lado del taladro", "Encima de una máquina apagada"),
            "El agua y la electricidad no van juntas.",
        ),
    ),
    "files-sharp-edges": (
        Question(
            "La lima ha perdido el mango. ¿Qué haces?",
            "No la uso; tomo otra y aviso al profesor",
            ("Envuelvo la punta con un paño", "La sujeto por la punta y limo con cuidado"),
            "La punta puede clavarse en la palma de la mano.",
        ),
        Question(
            "¿Cuándo corta una lima?",
            "Cuando la empujas",
            ("Cuando tiras de ella", "En los dos sentidos, si aprietas fuerte"),
            "Levántala al volver, o sus dientes se gastan.",
        ),
        Question(
            "¿Cuándo quitas la rebaba de una pieza?",
            "Antes de que pase de mano en mano",
            ("Cuando se entrega la pieza", "Solo si alguien se queja"),
            "Las rebabas son finas y cortan a quien toma la pieza después.",
        ),
        Question(
            "¿Cómo limpias los dientes de una lima?",
            "Con su cepillo",
            ("Con los dedos", "Soplando"),
            "Las virutas entre los dientes cortan y saltan a los ojos.",
        ),
        Question(
            "¿Dónde van los recortes con bordes vivos?",
            "A su caja",
            ("A un bolsillo", "A la mochila"),
            "En un bolsillo o en una mochila cortan la siguiente mano que entra.",
        ),
    ),
}
